package numeric

import (
	"errors"
	"math"
	"slices"
)

// What minimising a linear programme reports, beside *InfeasibleError.
var (
	// ErrUnbounded means that the value falls without end.
	ErrUnbounded = errors.New("the linear programme has no least value")
	// ErrStalled means that the cap on iterations was reached.
	ErrStalled = errors.New("the linear programme did not come to an end")
	// ErrProgram means rows of another length than the cost, bounds that exclude
	// each other, or a number that is none.
	ErrProgram = errors.New("the linear programme is not well formed")
)

// InfeasibleError says that nothing satisfies all rows. Rows are some that can't
// be satisfied together: those that carry the certificate of Farkas. There may
// be more than need be; [Program.Clash] leaves only those that must be there.
type InfeasibleError struct{ Rows []int }

// Error says so.
func (*InfeasibleError) Error() string { return "nothing satisfies all rows of the linear programme" }

// Row is low <= Coefficients·x <= high. An infinite end is none, and equal ends
// make an equation.
type Row struct {
	Coefficients []float64
	Low, High    float64
}

// Program is a linear programme: minimise Cost·x over x >= 0 within all rows.
type Program struct {
	Cost []float64
	Rows []Row
}

// Optimum is where a linear programme has its least value.
type Optimum struct {
	X     []float64
	Value float64

	// Dual is, for each row, how fast the least value rises with the end of the row
	// that it lies at; zero for a row that does not hold it back. At a degenerate
	// optimum it may hold for a move to one side only.
	Dual []float64
	// Reduced is, for each variable that is zero, how fast the value would rise with
	// it: what its cost would have to fall by before it is of use.
	Reduced []float64

	Degenerate bool // another row or variable is at its end by chance, so that Dual and Reduced need not be the only ones
	Unique     bool // no other x has the same value
}

const (
	feasible  = 1e-9  // how far a scaled row may be beyond its end
	improving = 1e-9  // what a scaled reduced cost must be to be followed
	pivotal   = 1e-9  // the least number to divide by
	noCoef    = 1e-12 // of the largest of its row: what is left of a difference of equal floats
	tie       = 1e-12 // steps that count as equal
	moved     = 1e-7  // how far an optimum can slide before it counts as not unique
)

// Minimise returns the optimum.
//
// Each row i gets a variable r[i] = Coefficients·x within its ends, so that the
// rows of [A -I](x, r) = 0 are always independent: rows that repeat, contradict
// or determine everything need no treatment of their own. It is a bounded
// revised simplex with an inverse that is made anew every 64 exchanges: first
// the sum of what is beyond its end is brought to nothing, then the cost to its
// least. The steepest reduced cost is followed, after 16 steps of no length the
// first by number (Bland's rule), which can't cycle. Rows and the cost are scaled
// to a largest coefficient of one. There are at most 1000 + 50 (rows + variables)
// exchanges, each of rows * (rows + variables) operations.
//
// It reports *InfeasibleError, ErrUnbounded, ErrStalled and ErrProgram. Sources:
// Dantzig, Linear Programming and Extensions, 1963; Bland, Mathematics of
// Operations Research 2 (1977) 103; Chvátal, Linear Programming, 1983, ch. 8
// (bounded variables), all from memory; checked against gonum's lp.Simplex.
func (p Program) Minimise() (Optimum, error) {
	s, err := newSimplex(p)
	if err != nil {
		return Optimum{}, err
	}
	if err := s.run(); err != nil {
		return Optimum{}, err
	}
	o := s.optimum(p)
	o.Unique, err = s.unique()
	return o, err
}

// Feasible reports whether something satisfies all rows.
func (p Program) Feasible() (bool, error) {
	p.Cost = make([]float64, len(p.Cost))
	s, err := newSimplex(p)
	if err != nil {
		return false, err
	}
	err = s.run()
	if errors.As(err, new(*InfeasibleError)) {
		return false, nil
	}
	return err == nil, err
}

// Clash returns the indices of rows that can't be satisfied together, but can as
// soon as any one of them is left out; nil when all rows can be satisfied. The
// rows that are fixed are never left out and never named. There is often more
// than one such set; it is the one that is left when rows are tried from the
// last to the first.
//
// It is a deletion filter on the rows of the certificate of Farkas: one
// programme for each of them. Source: Chinneck, Feasibility and Infeasibility
// in Optimization, 2008, ch. 6, from memory.
func (p Program) Clash(fixed func(row int) bool) ([]int, error) {
	all := make([]int, len(p.Rows))
	for i := range all {
		all[i] = i
	}
	left, err := p.clashing(all)
	if err != nil || left == nil {
		return nil, err
	}
	for _, i := range slices.Backward(slices.Clone(left)) {
		if fixed(i) || !slices.Contains(left, i) {
			continue
		}
		var without []int
		for k := range p.Rows {
			if k != i && (fixed(k) || slices.Contains(left, k)) {
				without = append(without, k)
			}
		}
		smaller, err := p.clashing(without)
		if err != nil {
			return nil, err
		}
		if smaller != nil {
			left = smaller
		}
	}
	named := make([]int, 0, len(left))
	for _, i := range left {
		if !fixed(i) {
			named = append(named, i)
		}
	}
	return named, nil
}

// Only returns the programme with some of its rows.
func (p Program) Only(rows []int) Program {
	only := Program{Cost: p.Cost}
	for _, i := range rows {
		only.Rows = append(only.Rows, p.Rows[i])
	}
	return only
}

// clashing returns which of some rows carry the certificate that they can't be
// satisfied together; nil when they can.
func (p Program) clashing(rows []int) ([]int, error) {
	only := p.Only(rows)
	only.Cost = make([]float64, len(p.Cost))
	s, err := newSimplex(only)
	if err != nil {
		return nil, err
	}
	err = s.run()
	var no *InfeasibleError
	if !errors.As(err, &no) {
		return nil, err
	}
	found := make([]int, 0, len(no.Rows))
	for _, i := range no.Rows {
		found = append(found, rows[i])
	}
	return found, nil
}

// simplex is the state of the method. Columns 0..n-1 are the variables, n..n+m-1
// the values of the rows.
type simplex struct {
	m, n    int
	columns [][]entry // of the variables, scaled by row, without zeros
	cost    []float64 // scaled by costScale
	low     []float64
	high    []float64

	rowScale  []float64
	costScale float64

	basis   []int  // the column that each row determines
	basic   []bool // by column
	atHigh  []bool // by column: where one lies that no row determines
	x       []float64
	inverse [][]float64
	age     int // exchanges since the inverse was made
}

// entry is a coefficient of a column.
type entry struct {
	row   int
	value float64
}

func newSimplex(p Program) (*simplex, error) {
	m, n := len(p.Rows), len(p.Cost)
	s := &simplex{
		m: m, n: n, columns: make([][]entry, n), cost: make([]float64, n+m), low: make([]float64, n+m), high: make([]float64, n+m),
		rowScale: make([]float64, m), basis: make([]int, m), basic: make([]bool, n+m), atHigh: make([]bool, n+m), x: make([]float64, n+m),
	}
	for j := range n {
		s.high[j] = math.Inf(1)
	}
	s.costScale = largest(p.Cost)
	for j, c := range p.Cost {
		if s.costScale > 0 {
			s.cost[j] = c / s.costScale
		}
	}
	if !finite(s.costScale) {
		return nil, ErrProgram
	}
	for i, row := range p.Rows {
		if len(row.Coefficients) != n || !(row.Low <= row.High) || math.IsInf(row.Low, 1) || math.IsInf(row.High, -1) {
			return nil, ErrProgram
		}
		most := largest(row.Coefficients)
		if !finite(most) {
			return nil, ErrProgram
		}
		s.rowScale[i] = 1
		if most > 0 {
			s.rowScale[i] = 1 / most
		}
		for j, a := range row.Coefficients {
			if math.Abs(a) > noCoef*most {
				s.columns[j] = append(s.columns[j], entry{i, a * s.rowScale[i]})
			}
		}
		s.low[n+i], s.high[n+i] = row.Low*s.rowScale[i], row.High*s.rowScale[i]
		s.basis[i], s.basic[n+i] = n+i, true
	}
	return s, s.invert()
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// largest returns the largest absolute value; NaN when there is one among them.
func largest(of []float64) float64 {
	most := 0.0
	for _, v := range of {
		most = math.Max(most, math.Abs(v))
	}
	return most
}

// invert makes the inverse of the basis anew: from that of the rows' own
// columns, the variables are brought in one after the other, each for the row
// where it is largest among those that are free.
func (s *simplex) invert() error {
	target := slices.Clone(s.basis)
	s.inverse = make([][]float64, s.m)
	for i := range s.inverse {
		s.inverse[i] = make([]float64, s.m)
		s.inverse[i][i] = -1
		s.basis[i] = s.n + i
	}
	for _, j := range target {
		if j >= s.n {
			continue
		}
		column, leave := s.column(j), -1
		for k, out := range s.basis {
			free := out >= s.n && !s.basic[out]
			if free && (leave < 0 || math.Abs(column[k]) > math.Abs(column[leave])) {
				leave = k
			}
		}
		const singular = 1e-12
		if leave < 0 || math.Abs(column[leave]) < singular {
			return ErrStalled
		}
		s.basis[leave] = j
		s.eliminate(leave, column)
	}
	s.age = 0
	s.place()
	return nil
}

// column returns a column in terms of the basis.
func (s *simplex) column(j int) []float64 {
	column := make([]float64, s.m)
	for k, row := range s.inverse {
		if j >= s.n {
			column[k] = -row[j-s.n]
			continue
		}
		for _, e := range s.columns[j] {
			column[k] += e.value * row[e.row]
		}
	}
	return column
}

// eliminate makes the inverse that of a basis with a column in the place of
// another.
func (s *simplex) eliminate(leave int, column []float64) {
	pivot := s.inverse[leave]
	var at []int // where it is not zero
	for i := range pivot {
		if pivot[i] != 0 {
			pivot[i] /= column[leave]
			at = append(at, i)
		}
	}
	for k, c := range column {
		if k == leave || c == 0 {
			continue
		}
		row := s.inverse[k]
		for _, i := range at {
			row[i] -= c * pivot[i]
		}
	}
}

// place computes what the rows determine from what lies at an end.
func (s *simplex) place() {
	right := make([]float64, s.m)
	for j := range s.n + s.m {
		if s.basic[j] {
			continue
		}
		s.x[j] = s.low[j]
		if s.atHigh[j] {
			s.x[j] = s.high[j]
		}
		if j >= s.n {
			right[j-s.n] += s.x[j]
			continue
		}
		for _, e := range s.columns[j] {
			right[e.row] -= e.value * s.x[j]
		}
	}
	for k, j := range s.basis {
		s.x[j] = dot(s.inverse[k], right)
	}
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

// prices returns the multipliers of the rows for costs of the basic columns.
func (s *simplex) prices(cost func(j int) float64) []float64 {
	y := make([]float64, s.m)
	for k, j := range s.basis {
		c := cost(j)
		if c == 0 {
			continue
		}
		for i, v := range s.inverse[k] {
			y[i] += c * v
		}
	}
	return y
}

// reduced returns the reduced cost of a column by the multipliers.
func (s *simplex) reduced(j int, cost float64, y []float64) float64 {
	if j >= s.n {
		return cost + y[j-s.n]
	}
	for _, e := range s.columns[j] {
		cost -= e.value * y[e.row]
	}
	return cost
}

// beyond returns -1 for a column that is under its low end, 1 for one over its
// high end.
func (s *simplex) beyond(j int) float64 {
	switch {
	case s.x[j] < s.low[j]-feasible:
		return -1
	case s.x[j] > s.high[j]+feasible:
		return 1
	default:
		return 0
	}
}

// run exchanges columns until the optimum.
func (s *simplex) run() error {
	const renew, patience = 64, 16
	still := 0
	for range 1000 + 50*(s.m+s.n) {
		outside := false
		for _, j := range s.basis {
			outside = outside || s.beyond(j) != 0
		}
		cost := func(j int) float64 { return s.cost[j] }
		if outside {
			cost = s.beyond
		}
		y := s.prices(cost)
		enter := s.entering(y, outside, still > patience)
		switch {
		case enter >= 0:
		case s.age > 0: // look again with a new inverse before saying so
			if err := s.invert(); err != nil {
				return err
			}
			continue
		case outside:
			return infeasible(y)
		default:
			return nil
		}
		length, err := s.exchange(enter, outside, still > patience)
		if err != nil {
			return err
		}
		still++
		if length > tie {
			still = 0
		}
		if s.age >= renew {
			if err := s.invert(); err != nil {
				return err
			}
		}
	}
	return ErrStalled
}

func infeasible(y []float64) error {
	no := &InfeasibleError{}
	for i, v := range y {
		if math.Abs(v) > improving {
			no.Rows = append(no.Rows, i)
		}
	}
	return no
}

// entering returns the column to bring in, -1 when none helps.
func (s *simplex) entering(y []float64, outside, first bool) int {
	best, most := -1, improving
	for j := range s.n + s.m {
		if s.basic[j] || s.low[j] == s.high[j] {
			continue
		}
		c := s.cost[j]
		if outside {
			c = 0
		}
		gain := -s.reduced(j, c, y)
		if s.atHigh[j] {
			gain = -gain
		}
		if gain > most {
			best, most = j, gain
			if first {
				return j
			}
		}
	}
	return best
}

// exchange moves a column from its end as far as it goes, and returns how far.
func (s *simplex) exchange(enter int, outside, first bool) (float64, error) {
	direction := 1.0
	if s.atHigh[enter] {
		direction = -1
	}
	column := s.column(enter)
	length, leave, toHigh := s.high[enter]-s.low[enter], -1, false
	for k, j := range s.basis {
		speed := -direction * column[k]
		if math.Abs(speed) <= pivotal {
			continue
		}
		end, high, blocks := s.block(j, speed)
		if !blocks {
			continue
		}
		t := math.Max(0, (end-s.x[j])/speed)
		better := t < length-tie
		if !better && t <= length+tie && leave >= 0 {
			better = math.Abs(speed) > math.Abs(column[leave])
			if first {
				better = j < s.basis[leave]
			}
		}
		if better {
			length, leave, toHigh = t, k, high
		}
	}
	switch {
	case math.IsInf(length, 1) && outside:
		return 0, ErrStalled // what is beyond its end can't fall for ever: digits are lost
	case math.IsInf(length, 1):
		return 0, ErrUnbounded
	}
	for k, j := range s.basis {
		s.x[j] -= direction * length * column[k]
	}
	if leave < 0 {
		s.atHigh[enter] = !s.atHigh[enter]
		s.x[enter] += direction * length
		return length, nil
	}
	out := s.basis[leave]
	s.basic[out], s.atHigh[out] = false, toHigh
	s.x[enter] += direction * length
	s.x[out] = s.low[out]
	if toHigh {
		s.x[out] = s.high[out]
	}
	s.basis[leave], s.basic[enter], s.atHigh[enter] = enter, true, false
	s.eliminate(leave, column)
	s.age++
	return length, nil
}

// block returns the end that a basic column stops at when it moves.
func (s *simplex) block(j int, speed float64) (end float64, high, blocks bool) {
	up := speed > 0
	switch s.beyond(j) {
	case -1:
		return s.low[j], false, up
	case 1:
		return s.high[j], true, !up
	}
	if up {
		return s.high[j], true, !math.IsInf(s.high[j], 1)
	}
	return s.low[j], false, !math.IsInf(s.low[j], -1)
}

// optimum reads the optimum off the last basis.
func (s *simplex) optimum(p Program) Optimum {
	o := Optimum{X: slices.Clone(s.x[:s.n]), Dual: make([]float64, s.m), Reduced: make([]float64, s.n)}
	y := s.prices(func(j int) float64 { return s.cost[j] })
	for j := range s.n + s.m {
		switch {
		case s.basic[j]:
			o.Degenerate = o.Degenerate || s.x[j] < s.low[j]+feasible || s.x[j] > s.high[j]-feasible
		case j < s.n:
			o.Reduced[j] = s.reduced(j, s.cost[j], y) * s.costScale
		default:
			o.Dual[j-s.n] = s.reduced(j, 0, y) * s.costScale * s.rowScale[j-s.n]
		}
	}
	for j, v := range o.X {
		if v < feasible {
			o.X[j] = math.Max(0, v)
		}
	}
	o.Value = dot(p.Cost, o.X)
	return o
}

// unique reports whether no other x is as good. All that are as good leave at
// its end what has a reduced cost; how far the rest can move away from its end
// within that is a linear programme of its own.
func (s *simplex) unique() (bool, error) {
	y := s.prices(func(j int) float64 { return s.cost[j] })
	face := Program{Cost: make([]float64, s.n)}
	gone := make([]bool, s.n)
	start, free := 0.0, false
	reduced := make([]float64, s.n+s.m)
	for j := range s.n + s.m {
		if s.basic[j] || s.low[j] == s.high[j] {
			continue
		}
		reduced[j] = s.reduced(j, s.cost[j], y)
		if costs := math.Abs(reduced[j]) > improving; j < s.n && costs {
			gone[j] = true
		} else if !costs {
			free = true
		}
	}
	if !free {
		return true, nil
	}
	coefficients := make([][]float64, s.m)
	for i := range coefficients {
		coefficients[i] = make([]float64, s.n)
	}
	for k, column := range s.columns {
		for _, e := range column {
			if !gone[k] {
				coefficients[e.row][k] = e.value
			}
		}
	}
	for i := range s.m {
		row := Row{Coefficients: coefficients[i], Low: s.low[s.n+i] - feasible, High: s.high[s.n+i] + feasible}
		j := s.n + i
		if !s.basic[j] && s.low[j] < s.high[j] {
			away := 1.0
			if s.atHigh[j] {
				away = -1
			}
			if math.Abs(reduced[j]) > improving {
				row.Low, row.High = s.x[j]-feasible, s.x[j]+feasible
			} else {
				start += away * s.x[j]
				for k, a := range row.Coefficients {
					face.Cost[k] -= away * a
				}
			}
		}
		face.Rows = append(face.Rows, row)
	}
	for j := range s.n {
		if !s.basic[j] && !gone[j] {
			face.Cost[j]--
		}
	}
	other, err := newSimplex(face)
	if err != nil {
		return false, err
	}
	switch err := other.run(); {
	case errors.Is(err, ErrUnbounded):
		return false, nil
	case err != nil:
		return false, err
	}
	// As far as they can go in sum; what the slack of the rows allows is no move.
	return -dot(face.Cost, other.x[:s.n])-start <= moved*float64(s.m+s.n), nil
}
