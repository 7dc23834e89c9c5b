// Package stand serves one web page that shows the engraved music as on a music stand, in
// step with the take. It is a view of a session, as the terminal room is: it shows the
// session's state and does what the session allows, and holds no music of its own.
//
// Stand.Handler answers; Listen opens the address; web/ is the page, engraver/ what
// engraves it, in the browser. Nothing that the page needs comes from another machine.
package stand
