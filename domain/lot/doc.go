// Package lot answers what became of a lot: what its ledger says as it stands,
// what may be appended to it, and what is to be asked of it.
//
// A lot's ledger is a list of entries to which entries are only ever added. Most
// tell a fact; the others judge one: correct it, take it back, or confirm it. A
// [Record] is a ledger that was read. It is a fold over the entries: pure, and
// the same however the ledger is cut into pieces and read bit by bit. It is
// total too, because a ledger that was kept must always be readable: what
// an entry says that has no meaning where it stands counts for nothing.
// [Record.Admit] is what keeps such entries out.
//
// Facts count in the order in which they happened, whenever they were recorded.
// What looks wrong is kept, doubted, and left out of everything until somebody
// confirms or corrects it. What is wrong of several weigh-ins of a piece shows only
// with the later ones: they are judged anew, all of them, whenever a record is
// asked; what an entry was doubted for when it was recorded stays with it.
//
// A lot is asked about by itself, but for one thing: how its room and casing dry is
// learned from lots that hung there before ([State.Learn]).
//
// Not covered: what a lot is judged by when it is finished, who may record what,
// and how a ledger is kept (digests are carried here, and never computed from an
// entry).
//
// Source: the rules of records are this project's, after 9 CFR 417.5(b) (an
// entry is made when it happens, with date and time, by who makes it) and 21 CFR
// 11.10(e) (a change must not hide the earlier value).
package lot
