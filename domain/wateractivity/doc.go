// Package wateractivity answers "how dry is it, as a microbe feels it": the
// water activity aw of a sausage of a known green composition at any loss, and
// the loss at which it is in balance with air of a given humidity.
//
// What holds the water back multiplies (Ross 1975): the salt in it, the other
// dissolved matter, and the protein that it swells.
//
//	aw = aw_NaCl(m) * exp(-0.0180153 * n / w) * min(1, aw_GAB(w / p))
//
// in which
//
//   - w: water left, kg per kg of green mass: green water less the loss
//   - m: moles of salt per kg of that water
//   - n: moles of other particles per kg of green mass, see [Mix]
//   - p: protein, kg per kg of green mass
//   - aw_NaCl: salt brine, see [Brine]
//   - aw_GAB: water held by protein, see [Sorption]
//
// Fat is inert. All of the loss is water; salt crystallises below aw 0.75, where
// the package gives no answer. Temperature has no term: the osmotic coefficient
// of salt moves by less than 2 percent between 0 and 50 °C.
//
// An estimate is not a measurement. Held against published sausages it reads 0
// to 0.03 high for ordinary ones, and up to 0.09 high for those ripened for
// months or heavily seasoned; see [Estimate80] and [Estimate95]. High is the
// cautious side for a check of a finished product, and the wrong side for where
// drying will stop: a loss in balance with air is then overstated. A reading of
// a meter (good to 0.003) goes before it, always.
//
// Glycerol, sugars that are not fermented and the like come in mole by mole, and
// potassium chloride as salt, up to a percent; see [Mix.With]. Not covered: salts
// of lactic and acetic acid that are added as such.
package wateractivity
