// Package acidification answers when the acid is there: at what time the pH of a
// fermenting sausage reaches 5.3, and the pH that its maker wants, each with how
// far that may be off, and whether it comes before the limits on degree-hours.
//
// The pH falls along a curve with a lag, a steepest fall and a floor, in a time
// that runs faster the better the temperature suits the culture:
//
//		pH(t) = p0 - (p0 - f) S(mu (tau(t) - lambda) / (p0 - f))
//		tau(t) = integral from 0 to t of g(T(s)) ds
//
//	  - p0: pH at the start, f: floor, the pH at which the acid stops
//	  - mu: steepest fall, lambda: lag, both at the best temperature
//	  - S: from 0 to 1, steepest fall 1: a modified Gompertz curve, a logistic one,
//	    and one that slows down earlier, as acid in a growing culture does
//	  - g: cardinal temperature model with inflection, 1 at the best temperature
//	    and 0 where the culture does not grow; T: temperature in the core
//
// Before any reading the four numbers are spread about what culture, dose and
// temperature say; each reading of the pH weighs a set of them anew (Bayes), the
// same set for the same question. What is left between the best curve and the readings is taken as
// lasting for some time, and the time that is still to come as off by a part of
// itself. That the floor may lie above 5.3 is part of it: that the pH does not
// come is an answer.
//
// Not covered: the rise of the pH after its lowest (readings after it are left
// out), acid added as such, sausage whose temperature goes beyond what the
// culture survives and back. A projection is no measurement: it meets no rule on
// degree-hours, which ask for a pH that was read.
//
// Sources: those of Sources, each with how far it may be trusted; the spreads are
// this project's own.
package acidification
