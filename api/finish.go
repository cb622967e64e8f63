package api

import (
	"context"
	"time"

	openapi_types "github.com/oapi-codegen/runtime/types"

	"greenweight/domain/fault"
	"greenweight/domain/finish"
	"greenweight/domain/pathogen"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
	"greenweight/openapi"
)

// finishCautions stand in every answer on a finished lot.
var finishCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"A rule that is met says what the rule says, no more: that a product keeps without cold by it does not show that no pathogen came in with the meat and lives on.",
	"What was read holds for the pieces that were read. The thickest piece, and the one that hung in the dampest place, decide for a lot.",
	"Moisture to protein is a name on a label. The same loss, or the same ratio, leaves another water activity by how fat and how salty a mixture is: only a meter tells.",
	"An opened or sliced piece dries no more and takes up what touches it: keep it cold.",
}

// memberFermentation is where the course of a fermentation stands in an order.
const memberFermentation = "fermentation"

// CheckFinish answers POST /v1/finish/check.
func (h *handlers) CheckFinish(_ context.Context, req openapi.CheckFinishRequestObject) (openapi.CheckFinishResponseObject, error) {
	order, err := h.readFinishOrder(*req.Body)
	if err != nil {
		return nil, err
	}
	answer, err := finish.Check(order)
	if err != nil {
		return nil, finishLine(*req.Body).onWire(err)
	}
	return openapi.CheckFinish200JSONResponse{Body: writeFinishAnswer(*req.Body, order, answer, unitsOf(req.Params.Units))}, nil
}

func (h *handlers) readFinishOrder(w openapi.FinishOrder) (finish.Order, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	o := finish.Order{
		Date: h.clock().UTC().Truncate(24 * time.Hour), Identity: string(given(w.Identity)), Smoked: w.Smoked,
		SinceStuffing: inHours(24 * given(w.SinceStuffingDays)),
	}
	if w.Date != nil {
		o.Date = w.Date.Time
	}
	for _, key := range w.Rulebooks {
		j, _ := rulebook.ParseJurisdiction(string(key))
		o.Rulebooks = append(o.Rulebooks, j)
	}
	if w.Formula != nil {
		o.Formula = pointerTo(readFormula(&bad, *w.Formula))
	}
	if w.CarriedOut != nil {
		o.CarriedOut = pointerTo(readPlan(&bad, fault.At("carried_out"), *w.CarriedOut))
	}
	for i, s := range w.WaterActivity {
		o.Activity = append(o.Activity, readActivitySample(&bad, fault.At("water_activity", i), s))
	}
	for i, s := range w.Ph {
		o.PH = append(o.PH, readPHSample(&bad, fault.At("ph", i), s))
	}
	for i, a := range w.Analyses {
		o.Analyses = append(o.Analyses, readAnalysis(&bad, fault.At("analyses", i), a))
	}
	for i, p := range w.Weights {
		o.Weights = append(o.Weights, readFinishWeight(&bad, fault.At("weights", i), p))
	}
	if w.Fermentation != nil {
		var wrong fault.Collector
		course := readChamber(&wrong, timelineOf(*w.Fermentation), *w.Fermentation)
		bad.AddError(fault.At(memberFermentation), codeInvalidValue, wrong.Err(codeInvalidValue, "the fermentation has no meaning as it stands"))
		o.Course = &course
	}
	if w.StatedFermentation != nil {
		o.Stated = readStatedFermentation(&bad, fault.At("stated_fermentation"), *w.StatedFermentation)
	}
	if w.ResidualNitrite != nil {
		o.Residual = readResidual(&bad, fault.At("residual_nitrite"), *w.ResidualNitrite)
	}
	for i, r := range w.Laboratory {
		o.Results = append(o.Results, readResult(&bad, fault.At("laboratory", i), r))
	}
	if p := w.Packaging; p != nil {
		o.Packed = finish.Packing{Intact: p.Intact, Vacuum: p.Vacuum, Sliced: p.Sliced}
	}
	if s := w.Storage; s != nil {
		o.Cold = s.Refrigerated
		o.KeptAt = readStorage(&bad, fault.At("storage"), *s)
	}
	return o, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

func readActivitySample(bad *fault.Collector, path fault.Path, w openapi.WaterActivitySample) finish.Sample[quantity.WaterActivity] {
	r := readReading(bad, path, "water_activity", quantity.NewWaterActivity, w.WaterActivity, w.UncertaintyWaterActivity)
	s := finish.Sample[quantity.WaterActivity]{
		Value: r.Value, Off: r.Off, Piece: given(w.Piece), At: given(w.At), Equilibrated: given(w.Equilibrated),
		Temperature: readSampleTemperature(bad, path, w.Temperature),
	}
	s.Method, s.Place, s.When = sampled(w.Method, w.Place, w.When)
	return s
}

func readPHSample(bad *fault.Collector, path fault.Path, w openapi.PHSample) finish.Sample[quantity.PH] {
	r := readReading(bad, path, "ph", quantity.NewPH, w.Ph, w.UncertaintyPh)
	s := finish.Sample[quantity.PH]{
		Value: r.Value, Off: r.Off, Piece: given(w.Piece), At: given(w.At),
	}
	s.Method, s.Place, s.When = sampled(w.Method, w.Place, w.When)
	return s
}

func sampled(method openapi.Method, place *openapi.SamplePlace, when *openapi.SampleTime) (finish.Method, finish.Place, finish.When) {
	m, _ := finish.ParseMethod(string(method))
	p, _ := finish.ParsePlace(string(given(place)))
	t, _ := finish.ParseWhen(string(given(when)))
	return m, p, t
}

func readSampleTemperature(bad *fault.Collector, path fault.Path, w *openapi.Temperature) *quantity.Temperature {
	if w == nil {
		return nil
	}
	return pointerTo(readTemperature(bad, below(path, "temperature"), *w))
}

func readAnalysis(bad *fault.Collector, path fault.Path, w openapi.FinishAnalysis) finish.Analysis {
	share := func(name string, value, off *float64) *finish.Share {
		if value == nil {
			return nil
		}
		r := readReading(bad, path, name, quantity.Percent, *value, off)
		return &finish.Share{Of: r.Value, Off: r.Off}
	}
	a := finish.Analysis{
		Piece:    given(w.Piece),
		Moisture: share("moisture_percent", w.MoisturePercent, w.UncertaintyMoisturePercent),
		Protein:  share("protein_percent", w.ProteinPercent, w.UncertaintyProteinPercent),
		Salt:     share("salt_percent", w.SaltPercent, w.UncertaintySaltPercent),
		Fat:      share("fat_percent", w.FatPercent, nil),
	}
	a.Method, a.Place, _ = sampled(w.Method, w.Place, nil)
	return a
}

func readFinishWeight(bad *fault.Collector, path fault.Path, w openapi.FinishWeight) finish.Weight {
	p := finish.Weight{
		Piece: given(w.Piece), Green: readMass(bad, below(path, "green"), w.Green), Now: readMass(bad, below(path, "now"), w.Now),
	}
	if w.Division != nil {
		p.Division = readMass(bad, below(path, "division"), *w.Division)
	}
	return p
}

func readStatedFermentation(bad *fault.Collector, path fault.Path, w openapi.StatedFermentation) *finish.StatedFermentation {
	r := readReading(bad, path, "ph", quantity.NewPH, w.Ph, w.UncertaintyPh)
	s := finish.StatedFermentation{PH: r.Value, Off: r.Off, Highest: readTemperature(bad, below(path, "highest_temperature"), w.HighestTemperature)}
	var err error
	switch {
	case w.DegfHours != nil:
		s.Scale = rulebook.FahrenheitScale
		s.DegreeHours, err = quantity.FahrenheitHours(*w.DegfHours)
		bad.AddError(below(path, "degf_hours"), codeInvalidValue, err)
	case w.DegcHours != nil:
		s.Scale = rulebook.CelsiusScale
		s.DegreeHours, err = quantity.CelsiusHours(*w.DegcHours)
		bad.AddError(below(path, "degc_hours"), codeInvalidValue, err)
	}
	return &s
}

func readResidual(bad *fault.Collector, path fault.Path, w openapi.ResidualNitrite) *finish.ResidualNitrite {
	amount, err := quantity.PartsPerMillion(w.AmountMgPerKg)
	bad.AddError(below(path, "amount_mg_per_kg"), codeInvalidValue, err)
	r := finish.ResidualNitrite{Amount: amount, Species: rulebook.SodiumNitrite}
	if w.Species == openapi.ResidualNitriteSpeciesNO2Ion {
		r.Species = rulebook.NitriteIon
	}
	if w.UncertaintyMgPerKg != nil {
		off, err := quantity.PartsPerMillion(*w.UncertaintyMgPerKg)
		bad.AddError(below(path, "uncertainty_mg_per_kg"), codeInvalidValue, err)
		r.Off = &off
	}
	return &r
}

func readResult(bad *fault.Collector, path fault.Path, w openapi.LaboratoryResult) finish.Result {
	r := finish.Result{Found: w.Found, Samples: given(w.SamplesCount), Report: given(w.Report)}
	r.Of, _ = finish.ParseAnalyte(string(w.Of))
	if w.CountCFUPerG != nil {
		count, err := quantity.CFUPerGram(*w.CountCFUPerG)
		bad.AddError(below(path, "count_cfu_per_g"), codeInvalidValue, err)
		r.Count = &count
	}
	return r
}

func readStorage(bad *fault.Collector, path fault.Path, w openapi.FinishStorage) *pathogen.TemperatureReading {
	if w.Temperature == nil {
		return nil
	}
	r := pathogen.TemperatureReading{Value: readTemperature(bad, below(path, "temperature"), *w.Temperature)}
	if d := w.TemperatureUncertainty; d != nil {
		r.Off = pointerTo(readIn(bad, below(path, "temperature_uncertainty"), differencePerUnit, d.Value, d.Unit))
	}
	return &r
}

// finishTimeline names the members of the course of a fermentation as the order
// has them.
type finishTimeline struct{ timeline }

func finishLine(w openapi.FinishOrder) finishTimeline {
	if w.Fermentation == nil {
		return finishTimeline{}
	}
	return finishTimeline{timelineOf(*w.Fermentation)}
}

func (l finishTimeline) member(path fault.Path) fault.Path {
	if len(path) == 0 || path[0] != memberFermentation {
		return path
	}
	return l.timeline.member(path[1:]).Under(fault.At(memberFermentation))
}

func (l finishTimeline) pointer(path []string) openapi.Pointer { return l.member(path).Pointer() }

// onWire returns a fault of the domain with its members named as in the
// question.
func (l finishTimeline) onWire(err error) error {
	return renamed(err, l.member)
}

func writeFinishAnswer(asked openapi.FinishOrder, o finish.Order, a finish.Answer, u units) openapi.FinishAnswer {
	at := finishLine(asked).pointer
	w := openapi.FinishAnswer{
		RulebookVersion: rulebook.Version(), Date: openapi_types.Date{Time: o.Date}, Findings: degrees(u, writeFindings(a.Findings, at)),
		Verdicts: make([]openapi.FinishVerdict, 0, len(a.Verdicts)), Trees: make([]openapi.FinishTree, 0, len(a.Trees)),
		Organisms: []openapi.OrganismFindings{}, MeasureNext: []openapi.MeasureNext{}, NotOverridable: []openapi.Code{},
		Summary: writeSummary(a.Summary), Notes: writeNotes(a.Notes, at), Cautions: finishCautions,
	}
	for _, v := range a.Verdicts {
		w.Verdicts = append(w.Verdicts, openapi.FinishVerdict{
			Rulebook: openapi.RulebookKey(v.Rulebook.String()), KeepsWithoutCold: openapi.FindingStatus(v.Keeps.String()), TreeID: optional[string](v.By),
			Reason: v.Reason, Open: append([]openapi.Code{}, v.Open...), KeepRefrigerated: openapi.FindingStatus(v.Cold.String()), RefrigerationReason: v.ColdReason,
		})
	}
	for _, t := range a.Trees {
		w.Trees = append(w.Trees, writeFinishTree(t, at))
	}
	for _, found := range a.Organisms {
		w.Organisms = append(w.Organisms, writeOrganismFindings(u, found, at))
	}
	for _, n := range a.Next {
		w.MeasureNext = append(w.MeasureNext, writeMeasureNext(n))
	}
	w.NotOverridable = append(w.NotOverridable, a.Barred...)
	if a.Estimate != nil {
		w.WaterActivityEstimate = pointerTo(writeEstimate(*a.Estimate))
	}
	return w
}

func writeFinishTree(t finish.Tree, at pointing) openapi.FinishTree {
	r := t.Rule
	w := openapi.FinishTree{
		ID: r.ID, Rulebook: rulebookOf(r.Jurisdiction), Claim: openapi.FinishTreeClaim(r.Claim.String()), Subject: r.Subject,
		Authority: openapi.Authority(r.Authority.String()), Status: openapi.FindingStatus(t.Status.String()), Source: writeCitation(r.Source),
		Note: optional[openapi.Text](r.Note),
	}
	for _, n := range t.Nodes {
		node := openapi.FinishNode{
			ID: n.Rule.ID, Depth: n.Depth, Join: openapi.NodeJoin(n.Rule.Join.String()), Says: n.Rule.Says, Fact: factOf(n.Rule),
			Status: openapi.FindingStatus(n.Status.String()), Reason: n.Reason, Remedy: optional[openapi.Text](n.Remedy), Limit: writeNodeLimit(n.Rule),
			Missing: writeMeasurements(n.Missing), Source: writeCitation(n.Source),
		}
		if n.Parent >= 0 {
			node.ParentID = pointerTo(t.Nodes[n.Parent].Rule.ID)
		}
		if !n.Measured.IsZero() {
			node.Measured = pointerTo(writeFigure(n.Measured))
		}
		for _, m := range n.Members {
			node.Pointers = append(node.Pointers, at(m))
		}
		w.Nodes = append(w.Nodes, node)
	}
	return w
}

// rulebookOf returns nil for what is nobody's in particular.
func rulebookOf(j rulebook.Jurisdiction) *openapi.RulebookKey {
	if j == 0 {
		return nil
	}
	return pointerTo(openapi.RulebookKey(j.String()))
}

func factOf(n rulebook.Node) *openapi.FinishFact {
	if n.Fact == 0 {
		return nil
	}
	return pointerTo(openapi.FinishFact(n.Fact.String()))
}

func writeNodeLimit(n rulebook.Node) *openapi.NodeLimit {
	if n.Limit.IsZero() {
		return nil
	}
	return &openapi.NodeLimit{
		Comparator: openapi.Comparator(n.Comparator.String()), Value: significant(n.Limit.Value(), scaleDigits), Unit: openapi.FigureUnit(n.Limit.Unit().String()),
	}
}

func writeMeasurements(s finish.Measurements) []openapi.Measurement {
	var w []openapi.Measurement
	for _, m := range s.List() {
		w = append(w, openapi.Measurement(m.String()))
	}
	return w
}

func writeMeasureNext(n finish.Next) openapi.MeasureNext {
	w := openapi.MeasureNext{Measurement: openapi.Measurement(n.Measurement.String()), How: n.Measurement.How()}
	for _, c := range n.Trees {
		with := writeMeasurements(c.With)
		if with == nil {
			with = []openapi.Measurement{}
		}
		w.Completes = append(w.Completes, openapi.TreeCompletion{TreeID: c.Tree, With: with})
	}
	return w
}

func writeEstimate(e finish.Estimated) openapi.EstimatedWaterActivity {
	return openapi.EstimatedWaterActivity{
		LossPercent: shown(e.Loss.Percent()), WaterActivity: shown(e.Likely.Mid.Float()),
		Low80WaterActivity: shown(e.Likely.Low.Float()), High80WaterActivity: shown(e.Likely.High.Float()),
		Low95WaterActivity: shown(e.Surely.Low.Float()), High95WaterActivity: shown(e.Surely.High.Float()),
		MoisturePercent: shown(e.Moisture.Percent()), MoistureProteinRatio: shown(e.Ratio.Float()), Source: writeCitation(e.Source),
	}
}

// ListFinishRules answers GET /v1/reference/finish.
func (h *handlers) ListFinishRules(context.Context, openapi.ListFinishRulesRequestObject) (openapi.ListFinishRulesResponseObject, error) {
	return openapi.ListFinishRules200JSONResponse{Body: writeFinishTables()}, nil
}

func writeFinishTables() openapi.FinishTables {
	w := openapi.FinishTables{RulebookVersion: rulebook.Version()}
	for _, r := range finish.Rules() {
		rule := openapi.FinishRule{
			ID: r.ID, Rulebook: rulebookOf(r.Jurisdiction), Claim: openapi.FinishRuleClaim(r.Claim.String()), Subject: r.Subject,
			Authority: openapi.Authority(r.Authority.String()), Source: writeCitation(r.Source), Note: optional[openapi.Text](r.Note),
		}
		rule.Nodes = appendRuleNodes(nil, r, r.Root, "", 0)
		w.Trees = append(w.Trees, rule)
	}
	for _, i := range rulebook.Identities() {
		w.Identities = append(w.Identities, openapi.FinishIdentity{
			ID: i.ID, Identity: optional[openapi.ProductIdentity](i.Key()), Rulebook: openapi.RulebookKey(i.Jurisdiction.String()), Subject: i.Subject,
			Comparator: openapi.Comparator(i.Comparator.String()), MoistureProteinRatio: i.Ratio.Float(), Authority: openapi.Authority(i.Authority.String()),
			Source: writeCitation(i.Source), Note: optional[openapi.Text](i.Note),
		})
	}
	for _, k := range finish.Usuals() {
		w.Uncertainties = append(w.Uncertainties, openapi.UsualUncertainty{
			Of: openapi.UsualUncertaintyOf(k.Of), Method: openapi.Method(k.Method.String()), Value: shown(k.Off.Value()),
			Unit: openapi.FigureUnit(k.Off.Unit().String()), Note: optional[openapi.Text](k.Note),
		})
	}
	return w
}

// appendRuleNodes appends a node and its branches, each node before them.
func appendRuleNodes(all []openapi.FinishRuleNode, r rulebook.Stability, n rulebook.Node, parent string, depth int) []openapi.FinishRuleNode {
	from := n.Source
	if from == (source.Citation{}) {
		from = r.Source
	}
	all = append(all, openapi.FinishRuleNode{
		ID: n.ID, ParentID: optional[string](parent), Depth: depth, Join: openapi.NodeJoin(n.Join.String()), Says: n.Says, Fact: factOf(n),
		Limit: writeNodeLimit(n), Source: writeCitation(from),
	})
	for _, b := range n.Of {
		all = appendRuleNodes(all, r, b, n.ID, depth+1)
	}
	return all
}
