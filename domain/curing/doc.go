// Package curing answers "is the cure right before I mix": what goes in of
// nitrite, nitrate, accelerators and salt, on each base and as each species,
// held against the rulebooks as they stand on a date, and against what the
// trade holds to.
//
// An ingoing amount is the sum over the lines of a weigh sheet of the mass of
// the substance, over the mass of the base:
//
//	p = 10^6 * sum(a_i * m_i) / sum(b_i * m_i)
//
// with a_i the fraction of the substance in a line, m_i its mass as weighed,
// and b_i one for a line in the base and zero for another. Where an assay or a
// spoonful is a range, both ends of p are found, each at the worst combination;
// a ceiling is met only if the high end keeps it, a floor only if the low end
// does.
//
// Drying never rebases an ingoing amount. What an analysis of the product has
// to show (residual and finished amounts) is not computed here: it is not
// shown; but what does not leave, as phosphates, follows by mass balance.
//
// Of a product that is cured in a pickle all additions are the pickle, and what
// counts on the green weight is what the meat takes up of it: with a fraction p
// of the agent in the pickle and a pump or pick-up f of the green weight, p f; at
// an equilibrium of meat M and pickle P, p P / (M + P). Bellies with their skin on
// count nine tenths of their weight.
//
// Sources: the rows of package rulebook, each with its own; the bases and the
// arithmetic are those of FSIS Directive 7620.3, Processing Inspectors'
// Calculations Handbook, rev. 1995, chapter 3.
package curing
