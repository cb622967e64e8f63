package finding

// NeedsAttention reports whether somebody has to act on it: it is a hazard, not
// met, or near.
func (s Status) NeedsAttention() bool { return s == Hazard || s == NotMet || s == Near }

// NeedsAttention reports whether somebody has to act on what was found.
func (f Finding) NeedsAttention() bool { return f.Status.NeedsAttention() }

// Tally is how many findings of one rulebook, stage and authority have each
// status.
type Tally struct {
	Rulebook  string // empty for what is nobody's in particular
	Stage     Stage
	Authority Authority

	counts [Hazard + 1]int
}

// Of returns how many have a status.
func (t Tally) Of(s Status) int {
	if s <= 0 || s > Hazard {
		return 0
	}
	return t.counts[s]
}

// Summary counts findings by rulebook, stage and authority, in the order in
// which they first come.
type Summary []Tally

// Summarise counts findings.
func Summarise(findings []Finding) Summary {
	var s Summary
	for _, f := range findings {
		s.Add(f)
	}
	return s
}

// Add counts a finding.
func (s *Summary) Add(f Finding) { s.Count(f.Rulebook, f.Stage, f.Authority, f.Status) }

// Count counts a finding of which only this is known; one without a valid
// status is not counted.
func (s *Summary) Count(rulebook string, stage Stage, authority Authority, status Status) {
	if status <= 0 || status > Hazard {
		return
	}
	for i := range *s {
		t := &(*s)[i]
		if t.Stage == stage && t.Authority == authority && t.Rulebook == rulebook {
			t.counts[status]++
			return
		}
	}
	if *s == nil {
		const usual = 8 // of one rulebook
		*s = make(Summary, 0, usual)
	}
	t := Tally{Rulebook: rulebook, Stage: stage, Authority: authority}
	t.counts[status] = 1
	*s = append(*s, t)
}

// Worst returns the status that most needs attention of a stage: a hazard, else
// not met, near, not shown, met, or not applicable; zero when there is none.
func (s Summary) Worst(stage Stage) Status {
	for _, status := range []Status{Hazard, NotMet, Near, NotShown, Met, NotApplicable} {
		for _, t := range s {
			if t.Stage == stage && t.counts[status] > 0 {
				return status
			}
		}
	}
	return 0
}
