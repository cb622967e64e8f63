// Package formula answers "what do I put on the scale": it scales a formula to
// the meat on hand, to a batch or to what should be left after drying, and
// rounds each weight to the division of the scale.
//
// A formula has meat parts with shares of the meat block, and additions with
// rates. A rate is a share of the meat or of the batch, or a mass or volume for
// a mass of meat. With F the sum of the rates on meat and G of those on batch,
// a meat block M makes a batch
//
//	B = M (1 + F) / (1 - G)
//
// A powder measured by the spoon has a mass only within a range, which is
// carried along; nothing is rounded for it, since it does not go on the scale.
//
// Not covered: which doses are allowed (package curing), drip, purge and what
// sticks to the bowl.
//
// Source: mass balance, no constant of its own. Densities come with the
// materials.
package formula
