// Package report says what a journal shows of some weeks: as text for a terminal, and as a
// page that needs nothing beside itself. It knows no journal and no music: figures and keys
// come to it in words.
package report
