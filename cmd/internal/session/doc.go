// Package session is a player's way through one practice: where they are, what they may do
// there, and what is shown. The terminal room and the stand's page are two views of one
// session; either may drive it. It holds no music and knows no screen: the studio makes,
// plays and keeps.
package session
