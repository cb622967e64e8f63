package acidity

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"greenweight/integration/backtest/scoring"
	"greenweight/integration/backtest/textout"
)

// writeText prints the report for people.
func (r report) writeText(out io.Writer, listCases bool) error {
	p := textout.New(out)
	r.writeCounts(p)
	if listCases {
		r.writeCases(p)
	}
	for _, g := range groups {
		r.writeGroup(p, g.name)
	}
	r.writeVerdicts(p)
	return p.Err()
}

func (r report) writeCounts(p *textout.Printer) {
	read, series, skipped := 0, 0, 0
	reasons := map[string]int{}
	for _, f := range r.Files {
		read += f.Entries
		series += f.Series
		for reason, n := range f.Skipped {
			reasons[reason] += n
			skipped += n
		}
	}
	why := make([]string, 0, len(reasons))
	for _, reason := range slices.Sorted(maps.Keys(reasons)) {
		why = append(why, fmt.Sprintf("%d %s", reasons[reason], reason))
	}
	p.Paragraph(fmt.Sprintf("Counted: %d cases. Of %d entries in the files named %d are courses of the pH, %d skipped%s. Computed: %d lots, seed %d.",
		len(r.Cases), read, series, skipped, textout.InBrackets(why), len(r.Courses)-series, r.Seed))
	rows := [][]string{{"group", "courses", "cases", "exact", "between two readings", "open", "never", "temperature assumed"}}
	for _, g := range groups {
		rows = append(rows, r.courseCells(g.name))
	}
	p.Table(rows)
	p.Say("\n")
	for _, words := range legend {
		p.Paragraph(words)
	}
}

func (r report) courseCells(group string) []string {
	var courses, cases, exact, between, open, never, assumed int
	for _, c := range r.Courses {
		if c.Group != group {
			continue
		}
		courses++
		cases += c.Cases
		assumed += count(c.Assumed)
		switch {
		case c.Never:
			never++
		case c.By == nil:
			open++
		case *c.After == *c.By:
			exact++
		default:
			between++
		}
	}
	cells := []string{"  " + group}
	for _, n := range []int{courses, cases, exact, between, open, never, assumed} {
		cells = append(cells, strconv.Itoa(n))
	}
	return cells
}

// legend explains the tables.
var legend = []string{
	"A case is a course up to a reading, all of them read above pH 5.3: the 1st, 2nd, 3rd, 4th, 6th, 8th, 12th …, the last above 5.5 and the last above " +
		"5.3, none after the true hour. A model is told what the maker knew, the readings and the temperatures until then and the plan from then on, and says at which hour from " +
		"the start the pH will be 5.3. Where nobody told how warm it was, a flat 24 °C is told (4 °C for cold storage): the spread of the models is of " +
		"the time at that warmth, and how much of an error is due to the assumption is not known.",
	"The truth of a computed lot is exact: bacteria that grow after a lag, make acid of a sugar that runs out and are held back by it in a meat that " +
		"buffers, integrated over the warmth of the core; one lot in four is a Gompertz or a logistic curve in the time of the core, which says more of how " +
		"the models fit curves than of sausage. That of a measured course lies between the last reading above 5.3 and the first at or below: an error counts from the end of that " +
		"interval, inside it is none. A course that never was at 5.3 never comes down where it had fallen by 0.2 and has risen again; of others nobody " +
		"knows (open): they count in CRPS and in what a band held as far as they were watched, and nowhere else.",
	"Errors are in hours, of the median, told less true: bias as mean and median, then of the absolute value. Told counts the cases, of those that come " +
		"down, in which that is an hour and not never, and errors are of them; to the point is the mean of the same to the one hour that one would name, where a straight line between the two readings crosses. " +
		"/line is its ratio to that of the straight line through the last two readings over the cases where both tell an hour, " +
		"followed by the 95 % interval from 2,000 draws of whole lots. No answer counts as never. A line is asked nothing of one reading.",
	"CRPS is the mean continuous ranked probability score in hours, ln that of ln(hour), smaller is better, of the distribution given that the lot comes down; " +
		"where that has no hour, never counts as 240 h, and so does every later hour, or four times the hour of the last reading where that is more. It leaves out lots that never come down, and the hours between two readings of which " +
		"the truth is not known. Dressed means that a baseline has the spread of its own errors of ln(hour) and the chance of its own wrong nevers at the same stage in the " +
		"other lots of the group, with fewer than 3 of them none; ratios are to the dressed line over the cases that both answer.",
	"Never is the mean probability in percent given to never, Brier and log are its scores on whether it comes down, smaller is better; the log score takes " +
		"no probability below 1 or above 99 %. " +
		"Held is how often a band held the true hour, ± the binomial standard error, which takes cases as independent, and the 95 % interval of the draws of lots, which does " +
		"not. Where the truth is an interval, or never, what is held is the part of it inside the band by the model's own probabilities, which comes to the claim when they are right. " +
		"PIT is the share of cases in each fifth of the distribution told, in percent from early to late: 20 each when it is right, more in the first when the truth comes earlier than told.",
}

func (r report) writeGroup(p *textout.Printer, group string) {
	errs := [][]string{{"", "cases", "lots", "come down", "told", "bias", "median", "mean abs", "median", "90 %", "to the point", "/line", "95 %"}}
	dist := [][]string{{"", "CRPS h", "/line", "ln", "/line", "never", "of", "said", "Brier", "log"}}
	bands := [][]string{{"", "cases", "50 % held", "lots", "80 % held", "lots", "90 % held", "lots", "width h", "PIT"}}
	parts := 0
	for _, s := range r.Summaries {
		if s.Group != group {
			continue
		}
		parts++
		errs, dist, bands = append(errs, heading(s.Part, errs)), append(dist, heading(s.Part, dist)), append(bands, heading(s.Part, bands))
		for _, w := range s.Rows {
			twin := strings.HasSuffix(w.Model, dressed)
			if !twin {
				errs = append(errs, w.errorCells())
			}
			if twin || w.Spread > 0 {
				dist = append(dist, w.distributionCells())
			}
			if w.Spread > 0 {
				bands = append(bands, w.bandCells())
			}
		}
	}
	if parts == 0 {
		return
	}
	p.Say("\n%s\n\n", strings.ToUpper(group))
	for _, table := range [][][]string{errs, dist, bands} {
		p.Table(table)
		p.Say("\n")
	}
}

func heading(name string, table [][]string) []string {
	cells := make([]string, len(table[0]))
	cells[0] = name
	return cells
}

func (w row) errorCells() []string {
	return []string{
		"  " + w.Model, strconv.Itoa(w.Cases), strconv.Itoa(w.Lots), strconv.Itoa(w.Reached), strconv.Itoa(w.Told),
		textout.Number("%+.1f", w.Bias.Mean), textout.Number("%+.1f", w.Bias.Median),
		textout.Number("%.1f", w.Absolute.Mean), textout.Number("%.1f", w.Absolute.Median), textout.Number("%.1f", w.P90),
		textout.Number("%.1f", w.ToPoint), textout.Number("%.2f", w.ErrorToLine), between("%.2f-%.2f", w.ErrorToLineSpan),
	}
}

func (w row) distributionCells() []string {
	return []string{
		"  " + w.Model, textout.Number("%.2f", w.CRPS), textout.Number("%.2f", w.CRPSTo), textout.Number("%.3f", w.LogCRPS),
		textout.Number("%.2f", w.LogCRPSTo), strconv.Itoa(w.Nevers), strconv.Itoa(w.NeverCases), textout.Number("%.0f %%", w.SaidNever),
		textout.Number("%.3f", w.Brier), textout.Number("%.3f", w.Log),
	}
}

func (w row) bandCells() []string {
	cells := []string{"  " + w.Model, strconv.Itoa(w.Spread)}
	for _, c := range w.Coverage {
		cells = append(cells, fmt.Sprintf("%.0f ±%.0f %%", c.Share, math.Ceil(c.SE)), between("%.0f-%.0f", c.Bootstrap))
	}
	var fifths []string
	for i := 0; i < len(w.PIT); i += 2 {
		fifths = append(fifths, fmt.Sprintf("%.0f", percent*(w.PIT[i]+w.PIT[i+1])/float64(w.Spread)))
	}
	return append(cells, textout.Number("%.1f", w.Width), strings.Join(fifths, " "))
}

func (r report) writeVerdicts(p *textout.Printer) {
	p.Say("\nIN SHORT, %s; errors to the point, where the projection and the line both tell an hour\n\n", fromTwo)
	var kept, failed []string
	for _, v := range r.Verdicts {
		p.Say("  %s, %d cases: mean absolute error %s h, of the line %s h: %s; the 80 %% band held %s ±%s: %s\n", v.Group, v.Cases,
			textout.Number("%.1f", v.Error), textout.Number("%.1f", v.Line), either(v.Beats, "beats the line", "does not beat the line"),
			textout.Number("%.0f", v.Held), textout.Number("%.0f %%", v.HeldSE), either(v.Calibrated, "within 70 to 90 %", "not within 70 to 90 %"))
		if v.Beats && v.Calibrated {
			kept = append(kept, v.Group)
		} else {
			failed = append(failed, v.Group)
		}
	}
	r.writeLeanings(p)
	p.Say("\nThe projection beats the straight line in mean absolute error and holds the 80 %% band within 70 to 90 %% in: %s; not in: %s.\n",
		orNone(kept), orNone(failed))
}

// writeLeanings names the parts of the computed lots, the one group with lots
// enough, in which the projection is too sure or not sure enough, and tells too
// late or too early.
func (r report) writeLeanings(p *textout.Printer) {
	const off = 0.08 // of the mean of PIT from a half
	var tooSure, notSure, late, early []string
	for _, s := range r.Summaries {
		w := s.Rows[0]
		if s.Group != groupOf(originGrowth) || w.Spread == 0 {
			continue
		}
		switch held := w.Coverage[1].Share; {
		case held < leastHeld:
			tooSure = append(tooSure, fmt.Sprintf("%s (%.0f %%)", s.Part, held))
		case held > mostHeld:
			notSure = append(notSure, fmt.Sprintf("%s (%.0f %%)", s.Part, held))
		}
		mean := 0.0
		for i, n := range w.PIT {
			mean += n / float64(w.Spread) * (float64(i) + 0.5) / pitTenths
		}
		switch {
		case mean < 0.5-off:
			late = append(late, fmt.Sprintf("%s (%.2f)", s.Part, mean))
		case mean > 0.5+off:
			early = append(early, fmt.Sprintf("%s (%.2f)", s.Part, mean))
		}
	}
	p.Say("\nThe projection on lots computed from growth and acid:\n")
	p.Say("  too sure, the 80 %% band held in fewer than 70 %%: %s\n", orNone(tooSure))
	p.Say("  not sure enough, in more than 90 %%: %s\n", orNone(notSure))
	p.Say("  tells too late, mean PIT below %.2f: %s\n", 0.5-off, orNone(late))
	p.Say("  tells too early, mean PIT above %.2f: %s\n", 0.5+off, orNone(early))
}

func orNone(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, ", ")
}

func either(b bool, yes, no string) string {
	if b {
		return yes
	}
	return no
}

func (r report) writeCases(p *textout.Printer) {
	if len(r.Cases) == 0 {
		return
	}
	rows := [][]string{{"id", "readings", "hour", "pH", "by", "true hour", ours, "80 % band", "never", oursPrior, straightLine, "line through all", "Gompertz"}}
	for _, c := range r.Cases {
		cells := []string{
			c.ID, strconv.Itoa(c.Seen), fmt.Sprintf("%.1f", c.Last), fmt.Sprintf("%.2f", c.LastPH), either(c.Grade > 0, fmt.Sprintf("strip %.2g", c.Grade), "meter"),
			truthText(c),
		}
		said := map[string]answered{}
		for _, f := range c.Forecasts {
			said[f.Model] = f
		}
		cells = append(cells, hourText(said, ours), bandText(said[ours].P80), fmt.Sprintf("%.0f %%", percent*said[ours].Never))
		for _, model := range []string{oursPrior, straightLine, "line through all", "Gompertz"} {
			cells = append(cells, hourText(said, model))
		}
		rows = append(rows, cells)
	}
	p.Say("\n")
	p.Table(rows)
}

func truthText(c caseOutcome) string {
	switch {
	case c.Never:
		return "never"
	case c.By == nil:
		return fmt.Sprintf("not by %.1f", *c.After)
	case *c.After == *c.By:
		return fmt.Sprintf("%.1f", *c.By)
	default:
		return fmt.Sprintf("%.1f-%.1f", *c.After, *c.By)
	}
}

func hourText(said map[string]answered, model string) string {
	f, ok := said[model]
	if !ok {
		return "-"
	}
	return hour(f.Median)
}

func hour(v *float64) string {
	if v == nil {
		return "never"
	}
	return fmt.Sprintf("%.1f", *v)
}

func bandText(b *hoursBand) string {
	if b == nil {
		return "-"
	}
	return hour(b.Low) + "-" + hour(b.High)
}

func between(format string, i *scoring.Interval) string {
	if i == nil {
		return "-"
	}
	return fmt.Sprintf(format, i.Low, i.High)
}
