// Package table reads and writes formulas as a table of comma-separated values
// (RFC 4180), so that a maker can keep them in a spreadsheet: one row for each
// ingredient.
//
// The first row has the headings. The rows of one formula stand together and
// share its name in the column formula; an empty cell there means the name
// above. The column row says what a row is:
//
//   - part: a meat or fat, a member of parts
//   - addition: a member of additions
//   - formula: nothing but members of the formula itself; such a row begins a
//     formula, also where the one before has the same name
//
// Where row is empty or there is no such column, the cells tell: a share_percent
// is of a part, a role of an addition, a product alone of the formula.
//
// Every other heading is the path of a member of the contract, from the part,
// the addition or the formula down, with a dot between names and an index from 0
// in lists: share_percent, rate.value, rate.per.unit, cure.key,
// plan.drying.0.temperature.value. The members of the formula itself (product,
// plan) stand in any of its rows, and need to stand in one only. Whether a cell
// is text, a number or true or false is told by the schema, so that a member that
// the contract gains is a column without a change here. An empty cell is a
// member that is not given; a cell {} under an object, or [] under a list, gives
// it without anything in it.
//
// A text that begins with = + - @, a tab or a carriage return is written with an
// apostrophe before it, and so is one that has apostrophes and then one of these,
// because programs for spreadsheets would take it for a calculation; reading takes
// the one apostrophe away again. Numbers are written as they stand.
//
// What is read is text in UTF-8, with or without a byte order mark, with lines
// that end in CR LF or LF. It is read as a stream: never more than one formula is
// held, and a formula has bounds (see [MaxRows], [MaxCell] and [MaxFormula]). A
// formula that can't be read spoils only itself. Whether what was read is a good
// formula is not judged here: that is for the checks of the contract, whose
// pointers [Record.Cell] leads back to the cell.
package table
