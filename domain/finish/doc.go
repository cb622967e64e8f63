// Package finish answers "may this lot be finished?": what was measured of a
// fermented, dried sausage, held against the rules on a finished product.
//
// A rule on shelf stability is a tree of conditions (package rulebook,
// Stabilities), of which every node is told with its status. Branches come
// together as in a logic of more values than two, ordered
//
//	not-met < not-shown < near < met
//
// in which all of some branches are as good as the worst of them, and any of
// them as good as the best; a branch that is not applicable is left out. What is
// missing is not shown and never becomes met, and a condition whose limit is known
// from memory only is at best not shown. Moisture to protein is a name on a
// label: no tree is met by it alone.
//
// A reading counts with what it may be off (guard band, JCGM 106:2012, 8.3): a
// limit inside that is near, and so is a reading exactly on a limit that must not
// be reached. Of a core and a rim the worse counts; a rim alone shows nothing of
// the core behind it, though it may withhold. A water activity that is estimated
// from the composition and the loss is told with the interval that is claimed for
// it, and never meets a rule.
//
// Trichinae are judged by what was carried out: a plan shows nothing here. What
// to measure next is computed from the trees: the smallest sets of measurements
// that, were they all favourable, would complete one.
//
// Not covered: challenge studies, sterile packs, sensory faults. Nothing is said
// to be safe.
package finish
