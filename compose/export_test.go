package compose

import "onward/compose/score"

// Prove compares a page with what was heard before it, as Compose does at the end.
func Prove(page score.Part, w *World, drills []Line, length int) (Certificate, error) {
	return certify(&Read{Score: &score.Score{Parts: []score.Part{page}}}, w, Request{Drills: drills}, length)
}
