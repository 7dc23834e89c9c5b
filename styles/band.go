package styles

// Band says how a style's band accompanies.
type Band struct{}
