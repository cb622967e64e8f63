// Package trichinae answers whether the risk of trichinae in the pork, horse and
// game of a formula is dealt with, by any of the lawful routes:
// freezing, heating, a prescribed method of salting and drying, testing of the
// carcass, controlled housing, or a validated treatment.
//
// A route is a list of conditions, each read off a table: the plan is looked up
// in the next row on the cautious side, never between two rows. The route is met
// when all its conditions are, and the row is not known from memory only; the
// formula is met when every part that may carry trichinae has a route that is.
// Salting, fermenting and drying as such show nothing: a method has floors for
// salt, room temperature and days.
//
// A plan is judged, not what was done: that it was carried out is for the record
// of the lot. Freezing never counts for wild boar, bear or other game, whose
// trichinae may survive it. No method of drying is met in a refrigerator: the
// lowest floor of a room is 45 °F. Not covered: pickled whole muscle, the
// approval of a room or a freezer by an authority, and what an authority asks of
// the slaughterhouse.
//
// Sources: each row has its own. Most are those of the former section 318.10 of
// title 9 of the Code of Federal Regulations, removed in 2018 (83 FR 25302) and
// since then guidance, of which some rows were read in copies that are in force
// elsewhere.
package trichinae
