package progress

// Within is how the model takes loads to lie within a read.
var Within = within
