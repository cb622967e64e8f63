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
// Air that changes adds up by superposition along a clock that its temperature
// makes go faster or slower, and that stands still while the piece is sealed. Pieces
// that hang together share what they have in common ([ProjectRack]), and earlier
// lots narrow what is known of the next ([Learn]).
//
// [Advise] says whether a piece dries well and what to do now: its pace, what speaks
// for a dry rim, the humidity to set, when to weigh again; [Compare], whether pieces
// that hang together dry alike. What they go by is practice, most of it recalled.
// [LossForTarget] says which loss gives a water activity or a moisture to protein.
//
// [CompareTrial] needs no model of the curve: it holds the times to the same loss of
// two or more ways of drying against each other, piece by piece, and says whether
// they differ by more than pieces do.
//
// Not covered: flat and short pieces, a casing whose resistance changes. Where the
// water is inside a piece is told by package moisture. A loss is no water activity
// and decides nothing about whether a lot may be finished.
package drying
