package finish

import (
	"cmp"
	"slices"
	"strings"

	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/pathogen"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Answer is what is found of a lot.
type Answer struct {
	Verdicts  []Verdict
	Trees     []Tree
	Findings  []finding.Finding // the trees too, as one finding each
	Organisms []pathogen.Found
	Estimate  *Estimated // nil where it can't be computed
	Next      []Next
	Barred    []string // codes of the findings that no decision overrides
	Notes     []finding.Note
	Summary   finding.Summary
}

// Verdict is what a rulebook comes to.
type Verdict struct {
	Rulebook rulebook.Jurisdiction
	Keeps    finding.Status // whether it is shown to keep without cold
	Open     []string       // codes of what else is not met or not shown of it: a tree that is met does not answer that
	By       string         // the tree that shows most; empty where the rulebook has none
	Reason   string

	Cold       finding.Status // whether it is kept cold, where that is not shown to be needless
	ColdReason string
}

// Check holds what is known of a lot against the rules on a finished product.
//
// It returns a fault.Invalid with every violation: of the formula as formula.Scale
// has them, below formula; of the course as fermentation.Course has them, below
// fermentation; for weights of which none is green; and for analyses by a strip, or by
// a quick method of which it is not stated what it may be off.
func Check(o Order) (Answer, error) {
	if err := o.validate(); err != nil {
		return Answer{}, err
	}
	j, err := o.prepare()
	if err != nil {
		return Answer{}, err
	}
	a := Answer{Trees: j.trees(), Estimate: j.estimate(), Organisms: j.organisms()}
	a.Findings = slices.Concat(
		j.results(), j.tooWarm(), j.hazards(), j.cured(), j.identity(), j.lossOfPlan(),
		coreAndRim(j.activity, "core-and-rim-activity", "water activity", "water_activity"), coreAndRim(j.acid, "core-and-rim-ph", "pH", "ph"),
		j.fermentation(), j.trichinae, j.published(), j.residual(), j.ripened(),
	)
	if a.Estimate != nil {
		a.Findings = append(a.Findings, a.Estimate.suggests())
	}
	for _, t := range a.Trees {
		a.Findings = append(a.Findings, t.finding())
	}
	place := func(f finding.Finding) int {
		r, known := rulebook.ParseJurisdiction(f.Rulebook)
		if !known {
			return -1
		}
		return slices.Index(o.Rulebooks, r)
	}
	slices.SortStableFunc(a.Findings, func(x, y finding.Finding) int {
		return cmp.Or(cmp.Compare(place(x), place(y)), cmp.Compare(x.Code, y.Code), cmp.Compare(x.LimitID, y.LimitID))
	})
	for i := range a.Findings {
		a.Findings[i].Reason = clipped(a.Findings[i].Reason)
		a.Findings[i].Members = a.Findings[i].Members[:min(len(a.Findings[i].Members), mostMembers)]
	}
	a.Barred, a.Next, a.Notes = barred(a.Findings), next(a.Trees), j.notes()
	a.Summary = finding.Summarise(a.Findings)
	for _, of := range a.Organisms {
		for _, f := range of.Findings {
			a.Summary.Add(f)
		}
	}
	for _, r := range o.Rulebooks {
		a.Verdicts = append(a.Verdicts, j.verdict(r, a))
	}
	return a, nil
}

// clipped keeps a reason readable.
func clipped(reason string) string {
	const most = 1500
	if len(reason) <= most {
		return reason
	}
	return strings.ToValidUTF8(reason[:most], "") + " ..."
}

// validate reports weights that are none.
func (o Order) validate() error {
	var bad fault.Collector
	for i, w := range o.Weights {
		if w.Green.IsZero() {
			bad.Add(fault.At("weights", i, "green"), "minimum", "a green weight must be more than 0 g")
		}
	}
	for i, a := range o.Analyses {
		a.validate(&bad, fault.At("analyses", i))
	}
	if o.Course != nil && o.Stated != nil {
		bad.Add(fault.At("stated_fermentation"), "oneOf", "the course of the fermentation is given, and its result is computed from that")
	}
	if o.CarriedOut != nil && o.Formula == nil {
		bad.Add(fault.At("carried_out"), "additional-member", "what was carried out goes only with a formula, whose plan it is of")
	}
	if o.Identity != "" {
		if _, ok := rulebook.IdentityFor(o.Identity); !ok {
			bad.Add(fault.At("identity"), "enum", "no name %q is known", o.Identity)
		}
	}
	return bad.Err("invalid-value", "the order has no meaning as it stands")
}

// validate reports a strip, which measures no share, and shares of quick methods
// without what they may be off by: what is usual is known of a laboratory alone,
// and the scatter of quick methods is many times that.
func (a Analysis) validate(bad *fault.Collector, path fault.Path) {
	switch a.Method {
	case ByStrip:
		bad.Add(fault.At("method").Under(path), "enum", "is strip, which measures nothing of this")
	case ByMeter, ByScale:
		for _, s := range []struct {
			member string
			of     *Share
		}{{"uncertainty_moisture_percent", a.Moisture}, {"uncertainty_protein_percent", a.Protein}, {"uncertainty_salt_percent", a.Salt}} {
			if s.of != nil && s.of.Off == nil {
				bad.Add(fault.At(s.member).Under(path), "required", "is missing: what a %s may be off by is not known, as that of a laboratory is", a.Method)
			}
		}
	case ByLaboratory, ByEstimate: // a laboratory's scatter is known, and an estimate shows nothing
	}
}

// hazards returns what must not be made at all of the formula.
func (j *judge) hazards() []finding.Finding {
	var all []finding.Finding
	for _, f := range j.check {
		if f.Status == finding.Hazard {
			f.Members = placed(f.Members)
			all = append(all, f)
		}
	}
	return all
}

// ruled returns the rulebooks whose rule on degree-hours counts: those asked for
// that have one, or nobody's, which is both.
func (j *judge) ruled() []rulebook.Jurisdiction {
	var all []rulebook.Jurisdiction
	for _, r := range unique(j.Rulebooks) {
		if _, has := rulebook.DegreeHourSetFor(r); has {
			all = append(all, r)
		}
	}
	if len(all) == 0 {
		return []rulebook.Jurisdiction{0}
	}
	return all
}

// fermentation returns what is found of the degree-hours and the acid.
func (j *judge) fermentation() []finding.Finding {
	if j.Course == nil && j.Stated == nil {
		return j.untold()
	}
	var all []finding.Finding
	for _, r := range j.ruled() {
		for _, f := range j.fermented[r].told {
			same := func(o finding.Finding) bool {
				return o.Code == f.Code && o.LimitID == f.LimitID && o.Rulebook == f.Rulebook
			}
			if f.Code == fermentation.CodeAcid {
				f.Rulebook = ""
			}
			if !slices.ContainsFunc(all, same) {
				all = append(all, f)
			}
		}
	}
	return all
}

// untold tells that nothing is stated of the fermentation.
func (j *judge) untold() []finding.Finding {
	var all []finding.Finding
	for _, set := range rulebook.DegreeHourSets() {
		own := slices.Contains(j.Rulebooks, set.Jurisdiction)
		if !own && j.ruled()[0] != 0 {
			continue
		}
		all = append(all, finding.Finding{
			Code: fermentation.CodeDegreeHours, Rulebook: set.Jurisdiction.String(), LimitID: set.ID, Status: finding.NotShown, Stage: finding.Process,
			Authority: finding.Guidance, Subject: "degree-hours until pH 5.3", Source: set.Source, Reason: j.fermented[j.ruled()[0]].hours.reason, Remedy: StateFermentation.How(),
		})
	}
	set := rulebook.DegreeHourSets()[0]
	return append(all, finding.Finding{
		Code: fermentation.CodeAcid, Status: finding.NotShown, Stage: finding.Process, Authority: finding.Guidance, Subject: "acid that stops Staphylococcus aureus",
		Source: set.Source, Reason: j.fermented[j.ruled()[0]].acid.reason, Remedy: StateFermentation.How(),
	})
}

// organisms returns which pathogens the readings rule out from growing. A reading
// counts only where it speaks for the whole of every piece.
func (j *judge) organisms() []pathogen.Found {
	m := pathogen.Measured{Stage: finding.Finish, Temperature: j.KeptAt}
	if worst, whole, known := j.activity.worst(); known && whole {
		off := quantity.MustWaterActivity(min(1, worst.high-worst.value))
		m.Activity = &pathogen.Reading[quantity.WaterActivity]{Value: quantity.MustWaterActivity(worst.value), Off: &off}
	}
	if worst, whole, known := j.acid.worst(); known && whole {
		off := quantity.MustPH(worst.high - worst.value)
		m.PH = &pathogen.Reading[quantity.PH]{Value: quantity.MustPH(worst.value), Off: &off}
	}
	found := pathogen.Grow(m, j.Rulebooks...)
	for i := range found {
		for k := range found[i].Findings {
			f := &found[i].Findings[k]
			f.Members = ofOrder(f.Members)
		}
	}
	return found
}

// ofOrder turns paths of package pathogen into those of an order.
func ofOrder(members [][]string) [][]string {
	all := make([][]string, 0, len(members))
	for _, m := range members {
		switch last := m[len(m)-1]; last {
		case "temperature":
			all = append(all, []string{"storage", last})
		default:
			all = append(all, []string{last})
		}
	}
	return all
}

// verdict is what the trees of a rulebook come to.
func (j *judge) verdict(r rulebook.Jurisdiction, a Answer) Verdict {
	v := Verdict{Rulebook: r, Keeps: finding.NotShown, Reason: "no rule of this rulebook is known here by which a sausage keeps without cold; what practice holds to is known from memory"}
	first := true
	for _, t := range a.Trees {
		if t.Rule.Jurisdiction != r || t.Rule.Claim != rulebook.KeepsWithoutCold {
			continue
		}
		if first || certainty(t.Status) > certainty(v.Keeps) {
			v.Keeps, v.By, v.Reason, first = t.Status, t.Rule.ID, t.Rule.Subject+": "+t.Nodes[0].Reason, false
		}
	}
	if len(a.Barred) > 0 {
		v.Keeps, v.By, v.Reason = finding.Hazard, "", "no decision overrides what was found: "+strings.Join(a.Barred, ", ")
	}
	v.Open = open(r, a.Findings)
	switch {
	case v.Keeps == finding.Hazard:
		v.Cold, v.ColdReason = finding.Hazard, "cold does not undo what was found"
	case v.Keeps == finding.Met:
		v.Cold, v.ColdReason = finding.NotApplicable, "the rulebook does not ask for cold by the rule that is met; an opened or sliced piece is another matter"
	case j.Cold == nil:
		v.Cold, v.ColdReason = finding.NotShown, "it is not shown to keep without cold, and how it is stored is not stated: keep it refrigerated"
	case *j.Cold:
		v.Cold, v.ColdReason = finding.Met, "it is not shown to keep without cold, and is kept refrigerated"
	default:
		v.Cold, v.ColdReason = finding.NotMet, "it is not shown to keep without cold, and is not kept refrigerated"
	}
	return v
}

// open returns the codes of what a rulebook asks beside its trees, and nobody in
// particular of every lot, that is not met or not shown.
func open(r rulebook.Jurisdiction, findings []finding.Finding) []string {
	codes := []string{}
	for _, f := range findings {
		kind, _, _ := strings.Cut(f.Code, "-")
		asked := kind == "nitrite" || kind == "nitrate" || kind == "core" || slices.Contains([]string{
			"trichinae", "trichinae-examination", fermentation.CodeDegreeHours, fermentation.CodeAcid, "water-protein-ratio", "ripening-time",
		}, f.Code)
		if !asked || f.Rulebook != "" && f.Rulebook != r.String() || f.Status == finding.Met || f.Status == finding.NotApplicable {
			continue
		}
		if !slices.Contains(codes, f.Code) {
			codes = append(codes, f.Code)
		}
	}
	return codes
}

// cured returns what is found of the nitrite and nitrate that went in.
func (j *judge) cured() []finding.Finding {
	var all []finding.Finding
	for _, f := range j.check {
		kind, _, _ := strings.Cut(f.Code, "-")
		row, _ := rulebook.LimitByID(f.LimitID)
		conditional := f.Status == finding.NotShown && (row.Applies.OnlyKeepRefrigerated || row.Applies.OnlyNamedProduct != "")
		if kind != "nitrite" && kind != "nitrate" || f.Stage != finding.Formula || f.Status == finding.NotApplicable || f.Status == finding.Hazard || conditional {
			continue
		}
		f.Members = placed(f.Members)
		all = append(all, f)
	}
	return all
}

// notes returns remarks on what was sent.
func (j *judge) notes() []finding.Note {
	var notes []finding.Note
	for _, k := range []struct {
		member string
		all    readings
		name   string
	}{{"water_activity", j.activity, "water activity"}, {"ph", j.acid, "pH"}} {
		if len(k.all) > 0 && len(k.all.measured()) == 0 {
			notes = append(notes, finding.Note{Code: "estimate-only", Member: []string{k.member}, Text: "The " + k.name + " is an estimate, which shows nothing: measure it."})
		}
	}
	if len(j.unknown) > 0 {
		notes = append(notes, finding.Note{
			Code: "composition-unknown", Member: []string{"formula"}, Text: "Of " + strings.Join(j.unknown, ", ") + " the composition is not known, so that no water activity is estimated.",
		})
	}
	if j.Formula != nil && j.CarriedOut == nil {
		notes = append(notes, finding.Note{
			Code: "plan-shows-nothing", Member: []string{"formula"}, Text: "The plan of the formula shows nothing of a finished lot: state in carried_out what was done.",
		})
	}
	return notes
}
