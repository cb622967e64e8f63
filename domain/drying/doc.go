// Package drying answers when a sausage is done: what it has lost, how fast it
// loses, and the day on which it reaches a loss, each with how far that may be
// off.
//
// The model is a cylinder that dries through its side (Crank, The Mathematics of
// Diffusion, 2nd edition, 1975, chapter 5), from the moisture of the mixture to
// the one that is in balance with the air:
//
//	L(t) = L0 + (Linf - L0) E(D t / R², Bi)
//
// Three numbers are not known: D/R², how fast water moves inside; Bi, how much
// of the resistance is inside and how much at the surface; Linf, the loss at
// which drying stops. Before any weigh-in they are spread about what diameter,
// temperature, humidity and composition say; each weigh-in weighs a grid of them
// anew (Bayes). A piece may also begin slower than a cylinder does, in air that
// begins damp. What is left between the best curve and the piece is taken as
// lasting, so that ten weigh-ins in a week do not count as ten weeks; and the
// projection goes on from the last weigh-in and not beside it.
//
// So the median and the bands of the day hold the doubt about the three numbers
// and about the model. How often bands of this kind hold is measured by the
// project's accuracy command on analysed and weighed series.
//
// CompareTrial needs no model of the curve: it holds the times to the same loss of two
// or more ways of drying against each other, piece by piece, and says whether they
// differ by more than pieces do.
//
// Not covered: a room whose temperature or humidity is changed in steps (weigh
// again after a change), several pieces at once, flat and short pieces, moisture
// inside the piece, dry rims. A loss is no water activity and decides nothing
// about whether a lot may be finished.
package drying
