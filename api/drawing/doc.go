// Package drawing draws charts for people: how far a fermentation has used up
// its degree-hours ([DegreeHours]), how a hanging piece loses weight and when it
// is done ([DryDown]), how ways of drying compare ([Comparison]), and what the air
// of a room does ([RoomAir]). Each is written as SVG or as PNG from plain data;
// nothing is computed here but where the ink goes, and nothing is judged.
//
// # Design
//
// A chart is [Width] by [Height] CSS pixels. At the width of a phone, 375 CSS
// pixels, its smallest text is still 11 of them high. The title is the answer in
// words, the picture its reason. Nothing is told by colour alone: what counts and
// what is expected differ by solid and dashed lines, the bands by their edges,
// doubtful weighings by their shape, and lines are named where they run rather
// than in a key. Everything drawn is inside the picture and no two labels
// overlap; a label of an exact value gives way where there is no room for it,
// since the title has the value too.
//
// A line of more than 2,000 points is thinned to at most as many: of each
// stretch the first, the last, the highest and the lowest stay, so that no peak
// is lost. The cost is proportional to the count of points given.
//
// # Text
//
// Names come from people. Characters that do not show (controls, marks of
// writing direction) are dropped, white space becomes one space, and what is too
// long ends in an ellipsis. In the SVG every name is escaped. Letters that the
// font of the pictures lacks (Latin, Greek, Cyrillic and Hebrew it has) show in
// the SVG, where the reader's own fonts fill in, and as a box in the PNG, which
// also has no right-to-left writing.
//
// # Files
//
// The SVG is well-formed XML that refers to nothing outside, has role img, and
// carries a title and a description for those who do not see the picture. The
// parts have classes (sum, limit, band-80, …) by which a page may style them. The
// same data give the same bytes.
package drawing
