// Package formula answers "what do I put on the scale": it scales a formula to
// the meat on hand, whole or by part, to a batch, to what should be left after
// drying or to casings, and rounds each weight to the division of the scale at
// hand. With it come what to buy, what it costs, how it is weighed bowl by bowl,
// and into how many pieces it is stuffed.
//
// A formula has meat parts with shares of the meat block, and additions with
// rates. A rate is a share of the meat or of the batch, or a mass or volume for
// a mass of meat. With F the sum of the rates on meat and G of those on batch,
// a meat block M makes a batch
//
//	B = M (1 + F) / (1 - G)
//
// A powder measured by the spoon has a mass only within a range, which is
// carried along; nothing is rounded for it, since it does not go on the scale. A
// casing is a cylinder between its ties, filled with a mixture whose density is a
// range that is carried along too. Money is exact and never rounded here.
//
// Not covered: which doses are allowed (package curing), drip and purge, how much
// a casing stretches, which scale is good enough for a trade.
//
// Source: mass balance and geometry, no constant of its own but the densities in
// casing.go, which name theirs. Bulk densities come with the materials.
package formula
