// Package material answers what a meat or an addition is made of: water,
// protein, fat, ash, carbohydrate, sugars, minerals, energy, and how much a
// spoon of it weighs.
//
// Most rows are the composition table of the United States Department of
// Agriculture, embedded in the program unrounded. Pure substances are added by
// chemistry. A value that the source does not give is unknown and never zero:
// see [Known].
//
// The package does not know what a material is used for; a formula gives it a
// role. Meat varies from piece to piece: "separable lean and fat" rows are
// retail-trimmed cuts, and the fat of real trim lies some 8 percentage points to
// either side, so a measured figure is better than a row.
//
// Sources: USDA National Nutrient Database for Standard Reference, Release 28
// (2015, revised 2016), a work of the United States government in the public
// domain; molar masses from IUPAC atomic weights; the source of each row stands
// in the row.
package material
