// Package pathogen answers what degree-hours leave open: whether the plan of a
// fermented sausage follows an option that is published for a reduction of
// Escherichia coli O157:H7 by 5 log, and which pathogens what was measured of a
// product rules out from growing.
//
// The first is a look-up: a plan follows a row of a table when it keeps every
// condition of it (the chamber, the casing, the pH at the end, and the stages of
// hold and heat after it, in order, each as warm and as long at least). It is
// looked up in the next row on the cautious side, never between two rows, and
// never inferred from degree-hours. The rows are known from memory: a plan that
// follows one is not shown all the same. The second are trees of limits, any of
// which is enough: one that is kept with all that a reading may be off rules
// growth out as far as it is printed; that each of several readings lies where
// an organism grows does not show that it grows.
//
// A plan is judged, not what was done, and a pH is measured and not planned. Not
// covered: how much of a pathogen dies otherwise, which other treatments an
// authority takes, testing of a lot, and nitrite, which hinders growth without a
// limit here. Nothing is said to be safe.
//
// Sources: each row has its own. Published studies that are no table stand apart
// as evidence: they are told of beside a plan that is comparable, and judge
// nothing.
package pathogen
