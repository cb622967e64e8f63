package drydown

import (
	"fmt"
	"io"
	"maps"
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
	for _, group := range groups() {
		r.writeGroup(p, group)
	}
	r.writeLeftOut(p)
	r.writeJudged(p)
	return p.Err()
}

func (r report) writeCounts(p *textout.Printer) {
	entries, series, studies, cases, computed, skipped := 0, 0, 0, 0, 0, 0
	reasons := map[string]int{}
	for _, f := range r.Files {
		entries += f.Entries
		for reason, n := range f.Skipped {
			reasons[reason] += n
			skipped += n
		}
	}
	for _, s := range r.Studies {
		cases += s.Cases
		if s.Synthetic {
			computed += s.Cases
		}
		if s.Study != groupDrawn && s.Study != groupRacks {
			series += len(s.Series)
			studies++
		}
	}
	why := make([]string, 0, len(reasons))
	for _, reason := range slices.Sorted(maps.Keys(reasons)) {
		why = append(why, fmt.Sprintf("%d %s", reasons[reason], reason))
	}
	p.Paragraph(fmt.Sprintf("Counted: %d cases, %d of them on computed series, which stand apart. Of %d entries in the files named %d are dry-down "+
		"series of %d studies, %d skipped%s. %s %s",
		cases, computed, entries, series, studies, skipped, textout.InBrackets(why), targetsText[r.Targets], caseText))
	rows := [][]string{{"stage", "share of the target", "cases", "missing"}}
	for _, s := range r.Stages {
		rows = append(rows, []string{fmt.Sprintf("  %.3g %%", s.Share), fmt.Sprintf("%.3g to below %.3g %%", s.From, s.Below), text(s.Cases), text(s.Missing)})
	}
	p.Table(rows)
	p.Say("\n")
	rows = [][]string{{"study", "series", "cases", "analogue", "computed"}}
	for _, s := range r.Studies {
		rows = append(rows, []string{"  " + shortened(s.Study), text(len(s.Series)), text(s.Cases), yes(s.Analogue), yes(s.Synthetic)})
	}
	p.Table(rows)
	p.Say("\n")
	if r.Seed != nil {
		p.Paragraph(fmt.Sprintf(drawnText, *r.Seed))
	}
	if b := r.Beyond; b != nil {
		p.Paragraph(fmt.Sprintf("%d drawn lots never reach their target within %d days: the room is damper than it is said to be, or the mixture another. "+
			"Their %d cases stand apart from all tables. The projection gave never a chance of %.0f %% in the mean there, told it as the median in %d, and left its "+
			"80 %% band open in %d. Over all cases of drawn lots it gave never a chance of %.1f %%, and %.1f %% of them are such cases.",
			b.Lots, horizonDays, b.Cases, b.Chance, b.ToldNever, b.OpenEnded, b.Overall, b.Share))
	}
	for _, words := range legend {
		p.Paragraph(words)
	}
}

var targetsText = map[string]string{
	"last":  "The target is the highest loss of a series, or those that it names.",
	"every": "Each loss of a series is a target, and those that it names.",
}

const caseText = "A case is a target and a stage of it: a model is told what the maker knew at hanging and the weigh-ins up to the one whose " +
	"loss is nearest to that share of the target, within the bin of the stage, and says on which day the target will be reached. The true day " +
	"is where straight lines between the weigh-ins first reach it, or the one that the entry tells. A target without a weigh-in in the bin is " +
	"missing at that stage, not made up."

const drawnText = "Drawn lots are computed (seed %d): a piece of a drawn mixture and size dries by the radial transport of package moisture, whose " +
	"diffusivity falls with the water, in a room that is lowered in steps, swings by day and drifts. Diffusion, casing, draught and size are drawn wider than the " +
	"projection believes. A model is told what a maker knows: the size on the casing; the room on instruments that are off, as set in the end, as set " +
	"all the way, or as read as well (the simple methods know of no air); the mixture as analysed, as reckoned or not at all, and weighings on a scale that is off. It is no curve that the projection fits, but no sausage either. One rack of three " +
	"to six pieces for every twelve lots is asked for its last piece, of which all or two are weighed; the simple methods tell the latest day of those."

// legend explains the tables.
var legend = []string{
	"Errors are of the day told, which is the median of a distribution: bias is the median of (told - true)/true, median, mean and 90 % are of its " +
		"absolute value. Never counts the cases where that day is never, or where there is no answer: " +
		"these four leave them out, everything else does not. Counted is the mean with never as an error of 100 %, by series the same " +
		"with each series as one, however many targets it has. CRPS is the mean continuous ranked probability score on ln(day), smaller is better; for a " +
		"bare day it is the absolute error of ln(day). /line is its ratio to that of the straight line as a bare day over the same cases, followed by the " +
		"95 % interval from 2,000 draws of whole studies with a fixed seed. Never, or a later day, counts as 20 times the " +
		"day of the last weigh-in and no less than a year, for all models alike.",
	"Held is how often a band held the true day, followed by two 95 % intervals: Wilson's, which takes cases as independent, and that of the draws " +
		"of studies, which does not; it is not told for a single study and too narrow for few. Width is that of the 80 % band over the true day, as mean and as median. Cases of one series depend on each other, and so do those of one study.",
	"The probability given to days up to the true one is as often in each tenth when the projection is calibrated; more in the first tenths says that it " +
		"tells days too late, in the last too early, in the middle that its bands are too wide. Distance is the root mean square distance of its distribution from " +
		"an even one, in points, and by chance what as many independent cases of a calibrated forecaster have.",
	"Baselines are fitted by least squares to the same weigh-ins and start from no loss at day 0. Exponential, Page and Palumbo are told where the " +
		"drying stops by the projection without weigh-ins, but at least 0.5 points above the target, which leaks to their good that it was reached; " +
		"the projection given that the target is reached is told no more than that. " +
		"Dressed means that a baseline has the spread of its own errors of ln(day) at the same stage in the other studies, each study with the " +
		"same weight; with fewer than 3 other cases it stays a bare day.",
}

func (r report) writeGroup(p *textout.Printer, group string) {
	errs := [][]string{{"", "cases", "studies", "bias", "median", "mean", "90 %", "never", "counted", "by series", "CRPS", "/line", "95 %", "dressed CRPS", "/line", "95 %"}}
	bands := [][]string{{"", "cases", "50 % held", "Wilson", "studies", "80 % held", "Wilson", "studies", "by series", "90 % held", "Wilson", "studies", "width", "median"}}
	var best []string
	for _, s := range r.Summaries {
		if s.Group != group {
			continue
		}
		name := s.name()
		errs = append(errs, heading(name, len(errs[0])))
		bands = append(bands, heading(name, len(bands[0])))
		for _, w := range s.Rows {
			if !strings.HasSuffix(w.Model, dressed) {
				errs = append(errs, s.errorCells(w))
			}
			if w.Spread > 0 {
				bands = append(bands, w.bandCells())
			}
		}
		best = append(best, s.ranking())
	}
	if len(best) == 0 {
		return
	}
	p.Say("\n%s\n\n", strings.ToUpper(group))
	p.Table(errs)
	p.Say("\n")
	p.Table(bands)
	r.writePIT(p, group)
	r.writeParts(p, group)
	p.Say("\nLowest CRPS, %s:\n", group)
	for _, line := range best {
		p.Say("  %s\n", line)
	}
}

// writePIT prints how the probabilities that were given to what came are spread.
func (r report) writePIT(p *textout.Printer, group string) {
	head := []string{"probability given to days up to the true one"}
	for i := range pitTenths {
		head = append(head, fmt.Sprintf("to %.1f", float64(i+1)/pitTenths))
	}
	rows := [][]string{append(head, "distance", "by chance")}
	for _, s := range r.Summaries {
		if s.Group != group {
			continue
		}
		rows = append(rows, heading(s.name(), len(rows[0])))
		for _, w := range s.Rows {
			if w.PIT == nil || strings.HasSuffix(w.Model, dressed) {
				continue
			}
			cells := []string{"  " + w.Model}
			for _, n := range w.PIT {
				cells = append(cells, text(n))
			}
			rows = append(rows, append(cells, textout.Number("%.0f", w.PITDistance), textout.Number("%.0f", w.PITByChance)))
		}
	}
	p.Say("\n")
	p.Table(rows)
}

func (r report) writeParts(p *textout.Printer, group string) {
	rows := [][]string{{"where the projection is wrong", "cases", "bias", "counted", "best simple method", "its mean", "80 % held", "came before", "came after", "CRPS"}}
	by := ""
	for _, c := range r.Parts {
		if c.Group != group {
			continue
		}
		if c.By != by {
			by = c.By
			rows = append(rows, heading("by "+by, len(rows[0])))
		}
		rows = append(rows, []string{
			"  " + c.Value, text(c.Cases), textout.Number("%+.0f %%", c.Bias), fmt.Sprintf("%.0f %%", c.Mean), c.Best, fmt.Sprintf("%.0f %%", c.Least),
			fmt.Sprintf("%.0f %%", c.Held), text(c.Before), text(c.After), fmt.Sprintf("%.3f", c.CRPS),
		})
	}
	if len(rows) > 1 {
		p.Say("\n")
		p.Table(rows)
	}
}

func (r report) writeLeftOut(p *textout.Printer) {
	if len(r.LeftOut) == 0 {
		return
	}
	p.Say("\nONE STUDY LEFT OUT\n\n")
	p.Paragraph(tunedOn)
	p.Paragraph("Here the spreads of the projection are chosen again without the study that it is then judged on: misfit, and what is known of rate and end of " +
		"drying before any weigh-in, as factors on what they are, by the least CRPS over all other studies, each with the same weight. Chosen on itself shows how " +
		"much there was to gain; no study may be judged so.")
	rows := [][]string{{"study", "cases", "misfit", "rate", "end", "CRPS as it is", "left out", "on itself", "counted as it is", "left out", "80 % held as it is", "left out"}}
	for _, l := range r.LeftOut {
		cells := []string{"  " + shortened(l.Study), text(l.Cases)}
		if l.Alone {
			rows = append(rows, append(cells, "no other", "study", "-", fmt.Sprintf("%.3f", l.AsIs.CRPS), "-", "-", "-", "-", "-", "-"))
			continue
		}
		rows = append(rows, append(cells,
			fmt.Sprintf("%.1f", l.Chosen.Misfit), fmt.Sprintf("%.1f", l.Chosen.Rate), fmt.Sprintf("%.1f", l.Chosen.Stops),
			fmt.Sprintf("%.3f", l.AsIs.CRPS), fmt.Sprintf("%.3f", l.Left.CRPS), fmt.Sprintf("%.3f", l.Itself.CRPS),
			fmt.Sprintf("%.0f %%", l.AsIs.Error), fmt.Sprintf("%.0f %%", l.Left.Error), fmt.Sprintf("%.0f %%", l.AsIs.Held), fmt.Sprintf("%.0f %%", l.Left.Held),
		))
	}
	p.Table(rows)
}

func (r report) writeJudged(p *textout.Printer) {
	if len(r.Judged) == 0 {
		return
	}
	p.Say("\nFLOOR AND GOAL\n\n")
	p.Paragraph("The floor is the least that the projection has to be good for, the goal what makes it worth asking. Errors are the mean over all cases of " +
		"all stages, with never counted as 100 % (\"counted\" above). \"Reached\" is the same figure of the projection given that the target is reached, as " +
		"the simple methods know that it is; it decides nothing. Few cases of few studies decide little: see the intervals above.")
	rows := [][]string{{"", "", "projection", "reached", "must be", ""}}
	for _, j := range r.Judged {
		rows = append(rows, heading(fmt.Sprintf("%s, %d cases of %d studies", j.Group, j.Cases, j.Studies), len(rows[0])))
		for _, c := range j.Conditions {
			kind, held := "floor", "HELD"
			if c.Goal {
				kind = "goal"
			}
			if !c.Held {
				held = "NOT HELD"
			}
			rows = append(rows, []string{"  " + c.What, kind, fmt.Sprintf("%.1f", c.Figure), textout.Number("%.1f", c.Reached), c.Limit, held})
		}
	}
	p.Table(rows)
}

// errorCells are the cells of a model that is not dressed, with the score of its
// twin that is.
func (s summary) errorCells(w row) []string {
	cells := []string{
		"  " + w.Model, text(w.Cases), text(w.Studies), textout.Number("%+.0f %%", w.MedianRelative), textout.Number("%.0f %%", w.MedianAbs),
		textout.Number("%.0f %%", w.MeanAbsRelative), textout.Number("%.0f %%", w.P90AbsRelative), text(w.Never),
		fmt.Sprintf("%.0f %%", w.MeanError), fmt.Sprintf("%.0f %%", w.MeanBySeries), fmt.Sprintf("%.3f", w.CRPS),
		textout.Number("%.2f", w.ToLine), between("%.2f-%.2f", w.ToLineBootstrap),
	}
	i := slices.IndexFunc(s.Rows, func(twin row) bool { return twin.Model == w.Model+dressed })
	if i < 0 {
		return append(cells, "", "", "")
	}
	return append(cells, fmt.Sprintf("%.3f", s.Rows[i].CRPS), textout.Number("%.2f", s.Rows[i].ToLine), between("%.2f-%.2f", s.Rows[i].ToLineBootstrap))
}

func (w row) bandCells() []string {
	cells := []string{"  " + w.Model, text(w.Spread)}
	for i, c := range w.Coverage {
		cells = append(cells, fmt.Sprintf("%.0f %%", c.Share), between("%.0f-%.0f", &c.Wilson), between("%.0f-%.0f", c.Bootstrap))
		if i == 1 {
			cells = append(cells, fmt.Sprintf("%.0f %%", c.BySeries))
		}
	}
	return append(cells, textout.Number("%.0f %%", w.Width), textout.Number("%.0f %%", w.MedianWidth))
}

func (s summary) name() string {
	if s.Stage == nil {
		return "all stages"
	}
	return fmt.Sprintf("at %.3g %% of the target", *s.Stage)
}

// ranking names the model with the lowest score, and the next.
func (s summary) ranking() string {
	var best, next *row
	for i, w := range s.Rows {
		switch {
		case slices.Contains(s.Best, w.Model):
			best = &s.Rows[i]
		case next == nil || w.CRPS < next.CRPS:
			next = &s.Rows[i]
		}
	}
	said := fmt.Sprintf("%s: %s (%.3f)", s.name(), strings.Join(s.Best, " and "), best.CRPS)
	if next != nil {
		said += fmt.Sprintf(", next %s (%.3f)", next.Model, next.CRPS)
	}
	return said
}

func (r report) writeCases(p *textout.Printer) {
	if len(r.Cases) == 0 {
		return
	}
	head := []string{"id", "analogue", "computed", "stage", "seen", "to day", "at", "target", "true day"}
	for _, f := range r.Cases[0].Forecasts {
		if !strings.HasSuffix(f.Model, dressed) {
			head = append(head, f.Model)
		}
		if f.Model == ours {
			head = append(head, "80 % band")
		}
	}
	rows := [][]string{head}
	for _, c := range r.Cases {
		cells := []string{
			c.ID, yes(c.Analogue), yes(c.Synthetic), fmt.Sprintf("%.3g %%", c.Stage), text(c.Seen), fmt.Sprintf("%.1f", c.LastDay),
			fmt.Sprintf("%.0f %%", c.LastShare), fmt.Sprintf("%.1f %%", c.Target), fmt.Sprintf("%.1f", c.Truth),
		}
		for _, f := range c.Forecasts {
			if !strings.HasSuffix(f.Model, dressed) {
				cells = append(cells, day(f.Median))
			}
			if f.Model == ours {
				cells = append(cells, bandText(f.P80))
			}
		}
		rows = append(rows, cells)
	}
	p.Say("\n")
	p.Table(rows)
}

func heading(name string, columns int) []string {
	cells := make([]string, columns)
	cells[0] = name
	return cells
}

func text(n int) string { return strconv.Itoa(n) }

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "-"
}

func between(format string, i *scoring.Interval) string {
	if i == nil {
		return "-"
	}
	return fmt.Sprintf(format, i.Low, i.High)
}

func day(v *float64) string {
	if v == nil {
		return "never"
	}
	return fmt.Sprintf("%.1f", *v)
}

func bandText(b *daysBand) string {
	if b == nil {
		return "-"
	}
	return day(b.Low) + "-" + day(b.High)
}

// shortened cuts a long name, so that a table stays readable; the JSON output
// has all of it.
func shortened(s string) string {
	const most = 80
	if letters := []rune(s); len(letters) > most {
		return string(letters[:most-1]) + "…"
	}
	return s
}
