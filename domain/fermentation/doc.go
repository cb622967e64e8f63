// Package fermentation answers whether acid came fast enough: how warm a sausage
// has been, for how long, before its pH was low enough to stop Staphylococcus
// aureus, and how much time is left.
//
// The measure is degree-hours, by both rules that are published (package
// rulebook, DegreeHourSets):
//
//		D = integral from the start to the clock's end of max(0, T(t) - B) dt
//
//	  - T: temperature of the chamber, B: base of the rule
//	  - the clock ends at the first pH reading at or below 5.3
//	  - the limit is that of the class that the highest T before the clock's end
//	    is in
//
// Each rule is computed in its own scale. Neither the edges of the classes nor
// the limits convert: 90 °F is 32.2 °C where the Celsius rule has 33 °C, and
// 1200 °F h are 666.7 °C h where it has 665.
//
// A log that is silent for longer than it may be has a gap: how warm it was there
// is not known, so that nothing is met, and the hotter of both readings beside it
// is taken for all of it, so that what is told errs to the cautious side. Beside
// what decides, an answer tells what does not: the warmest hour, an end that was
// crossed or stated between readings, what the next hotter class would leave, and
// an index of what the course lets Staphylococcus aureus grow.
//
// What is judged is the chamber, as the rules ask, and Staphylococcus aureus
// alone: degree-hours say nothing of Escherichia coli, Salmonella or Listeria,
// and nothing is said here of what the sausage is made of. A fermentation for
// which no pH was read is not shown, however short it was.
//
// Sources: those of the rules; of the index, Medvedova et al., Italian Journal of
// Food Safety 8:8287, 2019; that degree-hours count only until pH 5.3, and
// that the clock is not reopened, as quoted in several texts.
package fermentation
