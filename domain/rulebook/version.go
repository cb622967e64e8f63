package rulebook

// version is the year and month that the rows were last compared with their
// sources, and a count within it. Each change of a row, a cure, a factor or a
// guide raises it, and says here what changed:
//
//   - 2026.11.1: first edition. European rows, Canada's rule on curing, Codex and
//     the opening of the US handbook compared with the texts on 25 November 2026;
//     the tables of 9 CFR 424.21(c) and 424.22 not opened.
//   - 2026.11.2: the two rules on degree-hours.
//   - 2026.11.3: every row can be found by a check; names of traditional products,
//     species of cultures, and which rows are recalled for whole pieces too.
//   - 2026.11.4: doses, limits and sugars of cultures, a yeast and a mould, options and
//     limits of growth for other pathogens.
//   - 2026.11.5: trees of conditions on a finished product, and names that go with a
//     ratio of moisture to protein.
const version = "2026.11.5"

// Version returns the version of the rulebook, which every answer that used it
// carries.
func Version() string { return version }
