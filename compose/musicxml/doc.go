// Package musicxml writes scores as MusicXML 4.0 and reads them back, together with
// ordinary single-line parts that other programs wrote. Facts of the format are from
// the MusicXML 4.0 specification (W3C Community Final Specification Agreement).
package musicxml
