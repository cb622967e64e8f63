package curing

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// When is when a remedy can be used. The zero value is invalid.
type When int

// The two times.
const (
	BeforeMixing When = iota + 1 // the weights can still be changed
	AfterMixing                  // nothing can be taken out; meat and what goes with it can be added
)

// String returns the word used on the wire.
func (w When) String() string {
	if w == AfterMixing {
		return "after-mixing"
	}
	return "before-mixing"
}

// Change is one weight that changes.
type Change struct {
	Member   fault.Path // from the formula down; nil for what the formula does not have yet
	Name     string
	From, To quantity.Mass
	Spooned  bool          // From is the middle of what the spoon may hold
	OnScale  quantity.Mass // what to weigh: the new weight, or after mixing what to add
	Division quantity.Mass // of the scale, for OnScale
}

// Remedy is changes that belong together. It has been checked again by the same
// rules: Rechecked holds every finding that has an amount, as it then is.
type Remedy struct {
	Rulebooks  []rulebook.Jurisdiction // those that it was made for
	When       When
	Changes    []Change
	Text       string
	Resolves   []string          // keys of the rules that were not met, or near, and then are not any more
	Unresolved []string          // keys of the rules of all the rulebooks asked for, and of the trade, that still are
	Breaks     []string          // keys of the rules of the other rulebooks asked for that then are and were not
	Rechecked  []finding.Finding // of all the rulebooks asked for
}

// remedies returns the ways out: one that holds for all the rulebooks asked for
// together, unless one for a single rulebook resolves what it can't; then one for
// each. There is none for a formula with undiluted nitrite, which no weight makes
// right.
func (q question) remedies(asked []rulebook.Jurisdiction) []Remedy {
	before := q.findings(asked)
	if len(failing(before)) == 0 || len(undiluted(q.sheet)) > 0 {
		return nil
	}
	together := q.ways(asked, asked, before)
	if len(asked) == 1 || slices.ContainsFunc(together, func(r Remedy) bool { return r.When == BeforeMixing && len(r.Unresolved) == 0 }) {
		return together
	}
	var apart []Remedy
	for _, j := range asked {
		if slices.ContainsFunc(failing(before), func(f finding.Finding) bool { return f.Rulebook == j.String() }) {
			apart = append(apart, q.ways([]rulebook.Jurisdiction{j}, asked, before)...)
		}
	}
	more := slices.ContainsFunc(apart, func(r Remedy) bool {
		return slices.ContainsFunc(r.Resolves, func(key string) bool {
			return !slices.ContainsFunc(together, func(t Remedy) bool { return t.When == r.When && slices.Contains(t.Resolves, key) })
		})
	})
	if more {
		return apart
	}
	return together
}

// ways returns the remedies, before and after mixing, for some of the rulebooks
// asked for. Where changing the cures makes something fail that was kept, what
// else there is to mend is mended with the cures as they are.
func (q question) ways(forThese, asked []rulebook.Jurisdiction, before []finding.Finding) []Remedy {
	m := q.menderFor(forThese)
	var all []Remedy
	for _, cures := range []bool{true, false} {
		if r, ok := q.remedy(forThese, asked, BeforeMixing, before, m.beforeMixing(q.sheet, cures)); ok {
			all = append(all, r)
			break
		}
	}
	if diluted, ok := m.afterMixing(q.sheet); ok {
		if r, ok := q.remedy(forThese, asked, AfterMixing, before, diluted); ok {
			all = append(all, r)
		}
	}
	return all
}

// failing returns the findings that are not met or near.
func failing(findings []finding.Finding) []finding.Finding {
	return slices.DeleteFunc(slices.Clone(findings), func(f finding.Finding) bool {
		return f.Status != finding.NotMet && f.Status != finding.Near
	})
}

// remedy tells the changes between two sheets and checks the second again. It
// reports false when nothing changed or nothing is resolved, and when something
// of these rulebooks or of the trade fails that did not, or comes further below
// a floor that it missed already, or when the plan then does not deal with
// trichinae any more.
func (q question) remedy(
	forThese, asked []rulebook.Jurisdiction, when When, before []finding.Finding, mended formula.Sheet,
) (Remedy, bool) {
	r := Remedy{Rulebooks: forThese, When: when, Changes: changes(q.sheet, mended, when)}
	if q.undoes(mended) {
		return r, false
	}
	after := q.with(mended).findings(asked)
	failed, fails := keys(failing(before)), failing(after)
	failsNow := keys(fails)
	r.Rechecked = slices.DeleteFunc(slices.Clone(after), func(f finding.Finding) bool { return f.Limit.IsZero() })
	for _, key := range failed {
		if !slices.Contains(failsNow, key) {
			r.Resolves = append(r.Resolves, key)
		}
	}
	for _, f := range fails {
		ours := f.Rulebook == "" || slices.ContainsFunc(forThese, func(j rulebook.Jurisdiction) bool { return j.String() == f.Rulebook })
		was := slices.Contains(failed, f.Key())
		switch {
		case ours && (!was || lower(f, before)):
			return r, false
		case was && !slices.Contains(r.Unresolved, f.Key()):
			r.Unresolved = append(r.Unresolved, f.Key())
		case !ours && !was && !slices.Contains(r.Breaks, f.Key()):
			r.Breaks = append(r.Breaks, f.Key())
		}
	}
	r.Text = r.text()
	return r, len(r.Changes) > 0 && len(r.Resolves) > 0
}

// lower reports whether an amount that misses a floor is less than it was.
func lower(f finding.Finding, before []finding.Finding) bool {
	const noise = 1e-9 // relative
	i := slices.IndexFunc(before, func(b finding.Finding) bool { return b.Key() == f.Key() })
	return i >= 0 && f.Limit.Comparator == rulebook.AtLeast.String() && f.Limit == before[i].Limit &&
		f.Measured.Value.Value() < before[i].Measured.Value.Value()*(1-noise)
}

// keys returns the keys of findings, each once.
func keys(findings []finding.Finding) []string {
	var k []string
	for _, f := range findings {
		if !slices.Contains(k, f.Key()) {
			k = append(k, f.Key())
		}
	}
	return k
}

// changes returns the lines of one sheet that weigh another amount, or are
// weighed and not spooned, in the other.
func changes(from, to formula.Sheet, when When) []Change {
	const noise = 1e-9 // g, far under a division of any scale
	var all []Change
	for i, l := range to.Lines {
		c := Change{Member: l.Member, Name: l.Name, To: l.OnScale(), Division: l.Division}
		if i < len(from.Lines) {
			c.From, c.Spooned = from.Lines[i].OnScale(), from.Lines[i].Spooned()
		}
		difference := c.To.Minus(c.From)
		same := math.Abs(difference.Grams()) < noise
		if same && c.Spooned == l.Spooned() {
			continue
		}
		c.OnScale = c.To
		if same {
			c.From = c.To
		}
		if when == AfterMixing {
			c.OnScale = difference
			c.Division = to.Scale.Division(difference)
		}
		all = append(all, c)
	}
	return all
}

func (r Remedy) text() string {
	lines := make([]string, 0, len(r.Changes))
	for _, c := range r.Changes {
		d := c.To.Minus(c.From)
		switch {
		case c.OnScale.IsZero():
			lines = append(lines, "leave out "+c.Name)
		case r.When == AfterMixing:
			lines = append(lines, fmt.Sprintf("add %s of %s", said(c.OnScale), c.Name))
		case c.Spooned:
			lines = append(lines, fmt.Sprintf("weigh %s of %s, do not spoon it", said(c.OnScale), c.Name))
		case d.Less(quantity.Mass{}):
			lines = append(lines, fmt.Sprintf("use %s of %s, which is %s less", said(c.OnScale), c.Name, said(quantity.Mass{}.Minus(d))))
		default:
			lines = append(lines, fmt.Sprintf("use %s of %s, which is %s more", said(c.OnScale), c.Name, said(d)))
		}
	}
	text := "Before mixing: "
	if r.When == AfterMixing {
		text = "After mixing: "
	}
	text += strings.Join(lines, "; ") + "."
	if len(r.Unresolved) > 0 {
		text += " Still not kept: " + strings.Join(r.Unresolved, ", ") + "."
	}
	if len(r.Breaks) > 0 {
		text += " No longer kept: " + strings.Join(r.Breaks, ", ") + "."
	}
	return text
}

// said prints a mass for people: grams under 10 kg, kilograms above, to a
// hundred-thousandth of a gram.
func said(m quantity.Mass) string {
	const largest, digits = 10000.0, 1e5
	g := math.Round(m.Grams()*digits) / digits
	if math.Abs(g) < largest {
		return strconv.FormatFloat(g, 'f', -1, 64) + " g"
	}
	return strconv.FormatFloat(math.Round(m.Kilograms()*digits)/digits, 'f', -1, 64) + " kg"
}

// What is said beside a finding that fails and that no remedy resolves.
const (
	firstTheHazard = "Nothing else matters while the formula is a hazard."
	addACure       = "Add a cure within the rulebook that holds where you are."
	stateTheAssay  = "What is known of the amount is too wide for any weight to keep every rule: state the assay of the label, or weigh what is spooned."
	noWeights      = "No weights of what is in the formula keep every rule on this scale: use a finer scale, make more, or change the formula."
)

// tell writes beside each finding that fails what its remedy is, or why no
// weights are one.
func (q question) tell(findings []finding.Finding, remedies []Remedy, hazard bool) {
	for i, f := range findings {
		if f.Status != finding.NotMet && f.Status != finding.Near || f.Remedy != "" {
			continue
		}
		for _, r := range slices.Backward(remedies) {
			if slices.Contains(r.Resolves, f.Key()) {
				findings[i].Remedy = r.Text
			}
		}
		switch {
		case hazard:
			findings[i].Remedy = firstTheHazard
		case findings[i].Remedy != "":
		case len(undiluted(q.sheet)) > 0:
			findings[i].Remedy = useABlend
		case f.Measured.Value.Value() == 0 && ofCure(agentOf(f)):
			findings[i].Remedy = addACure
		case !f.Measured.Range.High.IsZero():
			findings[i].Remedy = stateTheAssay
		default:
			findings[i].Remedy = noWeights
		}
	}
}

// agentOf returns the agent that a finding is about, or none.
func agentOf(f finding.Finding) rulebook.Agent {
	for _, a := range []rulebook.Agent{rulebook.Nitrite, rulebook.Nitrate, rulebook.NitriteAndNitrate} {
		if a.String() == f.Limit.Basis.Agent {
			return a
		}
	}
	return 0
}
