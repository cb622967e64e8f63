// Package rulebook answers which rule holds for a cure, where, on which day,
// and on what it is counted: the limits of several jurisdictions as rows, the
// built-in curing blends, the conversions between nitrite and nitrate species,
// and the calculations of the inspectors' handbook.
//
// A [Limit] is a figure with everything that gives it a meaning: agent, chemical
// species, phase, base, classes of product, comparator, days of validity, source
// and trust. Two rows that differ in one of these are never to be held against
// each other unconverted:
//
//   - the base: the United States count on the raw meat block, the European
//     Union and Canada on the whole batch as made, Australia and New Zealand, Codex
//     and Brazil on what is in the food as sold;
//   - the species: the United States and the old European rows count the salt, the
//     European rows from 9 October 2025 and Codex the ion;
//   - the phase: what went in is not what is left.
//
// A window is two rows, a floor and a ceiling. Rows that a law replaces for some
// products stand beside the row they replace and name it. What is not a rule of
// any jurisdiction (intake values, the usual range of salt, the point at which
// this project refuses) is a [Guide].
//
// The rules on degree-hours until pH 5.3 stand apart, each in its own scale: see
// [DegreeHourSets].
//
// The rules on a finished product are trees of conditions, see [Stabilities], and
// the names that go with a ratio of moisture to protein stand apart, see
// [Identities].
//
// The package holds rules, it does not apply them: packages curing, fermentation and finish do. It
// does not cover the killing of trichinae or labelling. Rows of trust
// memory were recalled and not read; they may withhold and never pass.
//
// Sources: 9 CFR 424.21(c), 424.22 and 319.106, 21 CFR 172.170, FSIS Directive
// 7620.3 (rev. 1995), Regulation (EC) No 1333/2008 as consolidated on 18 August
// 2026 with Regulation (EU) 2023/2108, UK SI 2007/1778, CFIA Meat Hygiene Manual
// chapter 4, Food Standards Code Schedule 15, Codex CXS 192-1995; each row names
// its own.
package rulebook
