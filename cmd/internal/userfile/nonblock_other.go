//go:build !unix

package userfile

// nonblock is nothing where named pipes have no paths among the files.
const nonblock = 0
