package blend

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"greenweight/domain/fault"
	"greenweight/domain/numeric"
)

// clash returns why nothing satisfies the rows: a fault.NoSolution with each
// limit of a smallest set that can't be kept together. It wants the programme to
// have no solution.
func (m model) clash() error {
	p := m.program(m.n + 1)
	rows, err := p.Clash(func(i int) bool { return i >= len(m.rows) })
	if err != nil {
		return unsolved(err)
	}
	if len(rows) == 0 {
		return unsolved(numeric.ErrStalled) // on the edge of the tolerance: found clashing, and not found again
	}
	code := "clash"
	if len(rows) == 1 {
		code = "out-of-reach"
	}
	found := &fault.Error{Kind: fault.NoSolution, Code: code}
	says := make([]string, 0, len(rows))
	for _, i := range rows {
		r := m.rows[i]
		says = append(says, r.says)
		found.Violations = append(found.Violations, fault.Violation{Path: r.at, Code: code, Detail: m.reach(rows, i)})
	}
	const most = 6 // of a sentence that can still be read
	if len(says) > most {
		says = append(says[:most-1], fmt.Sprintf("%d more", len(says)-most+1))
	}
	found.Detail = "no blend of these cuts has " + list(says)
	if len(rows) > 1 {
		found.Detail += " together"
	}
	found.Detail += m.nearest()
	return found
}

// unsolved turns what a solver reports into a fault.
func unsolved(err error) error {
	if errors.Is(err, numeric.ErrStalled) || errors.As(err, new(*numeric.InfeasibleError)) {
		return &fault.Error{Kind: fault.NoSolution, Code: "not-converged", Detail: "the figures lie too close together to compute a blend with"}
	}
	return fmt.Errorf("solve the blend: %w", err)
}

// reach says what the figure of a row could be while the others of a set hold.
func (m model) reach(set []int, of int) string {
	r := m.rows[of]
	low, lowOK := m.best(set, of, 1)
	high, highOK := m.best(set, of, -1)
	others := "while the others named here hold"
	if len(set) == 1 {
		others = "with these cuts"
	}
	could := "can't be"
	switch {
	case lowOK && highOK && r.words(low) == r.words(high):
		could = "is " + r.words(low)
	case lowOK && highOK:
		could = fmt.Sprintf("is from %s to %s", r.words(low), r.words(high))
	case lowOK:
		could = "is at least " + r.words(low)
	case highOK:
		could = "is at most " + r.words(high)
	}
	return fmt.Sprintf("asks for %s, but %s %s %s", r.says, r.what, could, others)
}

// best returns the least (sign 1) or the most (sign -1) of the figure of a row
// while the others of a set hold; false where there is no end. The rows have no
// constant, so that the scale is free: it is set to make the denominator of the
// figure one, the mass in all, the inverse mass or the protein.
func (m model) best(set []int, of int, sign float64) (float64, bool) {
	r := m.rows[of]
	n := m.n + 1
	p := numeric.Program{Cost: make([]float64, n)}
	for _, i := range set {
		if i != of {
			p.Rows = append(p.Rows, m.rows[i].program(n))
		}
	}
	scale := m.whole(n)
	switch {
	case r.below != nil:
		copy(scale.Coefficients, r.below)
	case r.unit == grams:
		scale.Coefficients = make([]float64, n)
		scale.Coefficients[m.n] = 1
	}
	p.Rows = append(p.Rows, scale)
	for j := range m.n {
		p.Cost[j] = sign * r.figure[j]
	}
	o, err := p.Minimise()
	if err != nil {
		return 0, false
	}
	value := sign * o.Value
	if r.unit == grams {
		value *= m.reference
	}
	return value, true
}

// nearest describes the blend that breaks the limits by the least sum: points of
// percent and parts of the mass alike.
func (m model) nearest() string {
	n := m.n + 1 + 2*len(m.rows)
	p := m.program(n)
	for i := range m.rows {
		over, under := m.n+1+2*i, m.n+2+2*i
		p.Rows[i].Coefficients[over], p.Rows[i].Coefficients[under] = -1, 1
		p.Cost[over], p.Cost[under] = 1, 1
	}
	o, err := p.Minimise()
	if err != nil {
		return ""
	}
	const least = 1e-7
	v := o.X[m.n]
	if v < least {
		return "" // it would be a blend without end
	}
	masses := make([]float64, m.n)
	var of []string
	for j := range m.n {
		masses[j] = o.X[j] * m.reference / v
		if o.X[j] > least {
			of = append(of, fmt.Sprintf("%.3g %% %s", o.X[j]*100, m.order.Cuts[j].Name))
		}
	}
	var broken []string
	for i, r := range m.rows {
		if o.X[m.n+1+2*i]+o.X[m.n+2+2*i] > least {
			broken = append(broken, fmt.Sprintf("%s by %s", r.says, r.gap(r.beyond(r.of(masses)))))
		}
	}
	if len(broken) == 0 || slices.ContainsFunc(masses, math.IsNaN) {
		return ""
	}
	const most = 600 // characters; a problem cuts a long text in the middle of a word
	text := fmt.Sprintf("; the one that misses least is %s, which misses %s", list(of), list(broken))
	if len(text) > most {
		return "; the one that misses least misses " + strings.Join(broken[:1], "")
	}
	return text
}
