package api

import (
	"context"
	"strings"

	"greenweight/domain/curing"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

// ListShopping answers POST /v1/formulas/shopping-list.
func (h *handlers) ListShopping(_ context.Context, req openapi.ListShoppingRequestObject) (openapi.ListShoppingResponseObject, error) {
	batches, stock, err := h.readShoppingOrder(*req.Body)
	if err != nil {
		return nil, err
	}
	list, refused, err := curing.Shop(batches, stock)
	if err != nil {
		return nil, err
	}
	return openapi.ListShopping200JSONResponse{Body: writeShopping(*req.Body, list, refused, unitsOf(req.Params.Units))}, nil
}

// scaleOrder is an order to scale, and what else is asked of the sheet.
type scaleOrder struct {
	formula.Order
	wishes formula.Wishes
}

// scaled is a weigh sheet and what else was asked of it, or the hazards that
// forbid it.
type scaled struct {
	sheet   *formula.Sheet
	hazards []finding.Finding
	formula.Reckoning
}

func (o scaleOrder) scale() (scaled, error) {
	sheet, hazards, err := curing.WeighOut(o.Order)
	answer := scaled{sheet: sheet, hazards: hazards}
	if err != nil || sheet == nil {
		return answer, err
	}
	answer.Reckoning, err = formula.Reckon(o.Order, *sheet, o.wishes)
	return answer, err
}

func (h *handlers) readScaleOrder(w openapi.ScaleOrder) (scaleOrder, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	f := readFormula(&bad, w.Formula)
	order := scaleOrder{Order: formula.Order{
		Formula: f, Amount: readAmount(&bad, &w.Amount, f), Scale: readScale(&bad, fault.At("scale"), w.Scale), Scales: readBalances(&bad, w.Scales),
	}}
	order.wishes.Yields = readYields(&bad, w.Yields, f)
	if w.Stuffing != nil {
		order.wishes.Stuffing = readStuffing(&bad, fault.At("stuffing"), *w.Stuffing)
	}
	if len(w.Prices) > 0 || w.CasingPrice != nil {
		order.wishes.Prices = readPrices(&bad, w, f)
	}
	return order, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

func (h *handlers) readShoppingOrder(w openapi.ShoppingOrder) ([]curing.Batch, []formula.Stocked, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	scale, scales := readScale(&bad, fault.At("scale"), w.Scale), readBalances(&bad, w.Scales)
	batches := make([]curing.Batch, 0, len(w.Batches))
	for i, b := range w.Batches {
		var own fault.Collector
		f := readFormula(&own, b.Formula)
		batch := curing.Batch{Order: formula.Order{Formula: f, Amount: readAmount(&own, &b.Amount, f), Scale: scale, Scales: scales}}
		batch.Yields = readYields(&own, b.Yields, f)
		if b.Stuffing != nil {
			batch.Stuffing = readStuffing(&own, fault.At("stuffing"), *b.Stuffing)
		}
		bad.AddError(fault.At("batches", i), codeInvalidValue, own.Err(codeInvalidValue, ""))
		batches = append(batches, batch)
	}
	stock := make([]formula.Stocked, 0, len(w.Stock))
	for i, k := range w.Stock {
		stock = append(stock, readStockItem(&bad, fault.At("stock", i), k))
	}
	return batches, stock, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

func readStockItem(bad *fault.Collector, at fault.Path, w openapi.StockItem) formula.Stocked {
	k := formula.Stocked{Name: w.Item}
	if w.OnHand != nil {
		k.OnHand = readMass(bad, fault.At("on_hand").Under(at), *w.OnHand)
	}
	if w.Pack != nil {
		k.Pack = readMass(bad, fault.At("pack").Under(at), *w.Pack)
	}
	if w.Price != nil {
		k.Price = pointerTo(readPrice(bad, fault.At("price").Under(at), *w.Price))
	}
	return k
}

// readAmount reads how much to make of a formula.
func readAmount(bad *fault.Collector, w *openapi.Amount, f formula.Formula) formula.Amount {
	var a formula.Amount
	if w == nil {
		return a
	}
	at := fault.At("amount")
	for _, m := range []struct {
		name string
		from *openapi.PositiveMass
		to   *quantity.Mass
	}{{"meat", w.Meat, &a.Meat}, {"batch", w.Batch, &a.Batch}, {"finished", w.Finished, &a.Finished}} {
		if m.from != nil {
			*m.to = readMass(bad, fault.At(m.name).Under(at), *m.from)
		}
	}
	if w.OnHand != nil {
		a.OnHand = &formula.OnHand{}
		seen := map[int]bool{}
		for i, p := range w.OnHand {
			here := fault.At("on_hand", i).Under(at)
			mass := readMass(bad, fault.At("mass").Under(here), p.Mass)
			if part, ok := readPartItem(bad, here, p.Item, f, seen); ok {
				a.OnHand.Parts = append(a.OnHand.Parts, formula.PartOnHand{Part: part, Mass: mass})
			}
		}
	}
	if w.Casings != nil {
		a.Casings = readCasings(bad, fault.At("casings").Under(at), *w.Casings)
	}
	if w.StuffingLossPercent != nil {
		loss, err := quantity.Percent(*w.StuffingLossPercent)
		bad.AddError(fault.At("stuffing_loss_percent").Under(at), codeInvalidValue, err)
		a.StuffingLoss = loss
	}
	return a
}

// readItem finds what an item means in a formula; what it can't is recorded.
func readItem(bad *fault.Collector, at fault.Path, item string, f formula.Formula) (fault.Path, bool) {
	found := f.Find(item)
	at = fault.At("item").Under(at)
	switch {
	case len(found) == 0:
		bad.Add(at, "unknown-item", "%q is no name and no pointer of a part or addition of the formula", item)
	case len(found) > 1:
		bad.Add(at, "ambiguous-item", "%q means %d members of the formula; give the pointer", item, len(found))
	default:
		return found[0], true
	}
	return nil, false
}

// readPartItem is readItem for a part that may be listed once.
func readPartItem(bad *fault.Collector, at fault.Path, item string, f formula.Formula, seen map[int]bool) (int, bool) {
	member, ok := readItem(bad, at, item, f)
	if !ok {
		return 0, false
	}
	part, ok := formula.PartAt(member)
	switch {
	case !ok:
		bad.Add(fault.At("item").Under(at), "not-a-part", "%q is an addition, and this is about meat and fat", item)
		return 0, false
	case seen[part]:
		bad.Add(fault.At("item").Under(at), ruleDuplicate, "%q is listed already", item)
		return 0, false
	}
	seen[part] = true
	return part, true
}

func readYields(bad *fault.Collector, w []openapi.PartYield, f formula.Formula) []formula.Yield {
	yields := make([]formula.Yield, 0, len(w))
	seen := map[int]bool{}
	for i, y := range w {
		here := fault.At("yields", i)
		usable, err := quantity.Percent(y.UsablePercent)
		bad.AddError(fault.At("usable_percent").Under(here), codeInvalidValue, err)
		if part, ok := readPartItem(bad, here, y.Item, f, seen); ok {
			yields = append(yields, formula.Yield{Part: part, Usable: usable})
		}
	}
	return yields
}

func readDensity(bad *fault.Collector, at fault.Path, w *openapi.DensityBounds) formula.DensityRange {
	var d formula.DensityRange
	if w == nil {
		return d
	}
	for _, end := range []struct {
		name string
		from float64
		to   *quantity.Density
	}{{"low_kg_per_m3", w.LowKgPerM3, &d.Low}, {"high_kg_per_m3", w.HighKgPerM3, &d.High}} {
		var err error
		*end.to, err = quantity.GramsPerMillilitre(end.from / kgPerM3)
		bad.AddError(fault.At(end.name).Under(at), codeInvalidValue, err)
	}
	return d
}

// kgPerM3 is how many kilograms in a cubic metre a gram in a millilitre is.
const kgPerM3 = 1000

func readCasings(bad *fault.Collector, at fault.Path, w openapi.CasingsToFill) *formula.Casings {
	return &formula.Casings{
		Size: formula.CasingSize{
			Flat:     readLength(bad, fault.At("flat_width").Under(at), w.FlatWidth),
			Diameter: readLength(bad, fault.At("stuffed_diameter").Under(at), w.StuffedDiameter),
		},
		Length:       readLength(bad, fault.At("length").Under(at), &w.Length),
		EndAllowance: readLength(bad, fault.At("end_allowance").Under(at), w.EndAllowance),
		Count:        w.Count,
		Density:      readDensity(bad, fault.At("density").Under(at), w.Density),
	}
}

func readStuffing(bad *fault.Collector, at fault.Path, w openapi.StuffingOrder) *formula.Stuffing {
	s := &formula.Stuffing{
		Size: formula.CasingSize{
			Flat:     readLength(bad, fault.At("flat_width").Under(at), w.FlatWidth),
			Diameter: readLength(bad, fault.At("stuffed_diameter").Under(at), w.StuffedDiameter),
		},
		CutLength:    readLength(bad, fault.At("cut_length").Under(at), w.CutLength),
		EndAllowance: readLength(bad, fault.At("end_allowance").Under(at), w.EndAllowance),
		Density:      readDensity(bad, fault.At("density").Under(at), w.Density),
	}
	if w.PieceMass != nil {
		s.PieceMass = readMass(bad, fault.At("piece_mass").Under(at), *w.PieceMass)
	}
	return s
}

func readMoney(bad *fault.Collector, at fault.Path, value openapi.PriceValue) quantity.Rational {
	r, err := quantity.ParseRational(value)
	bad.AddError(fault.At("value").Under(at), ruleOutOfRange, err)
	return r
}

func readPrice(bad *fault.Collector, at fault.Path, w openapi.Price) formula.Price {
	return formula.Price{Amount: readMoney(bad, at, w.Value), Per: readMass(bad, fault.At("per").Under(at), w.Per)}
}

func readPrices(bad *fault.Collector, w openapi.ScaleOrder, f formula.Formula) *formula.Prices {
	p := &formula.Prices{}
	seen := map[string]bool{}
	for i, price := range w.Prices {
		at := fault.At("prices", i)
		line := formula.PricedLine{Price: readPrice(bad, fault.At("price").Under(at), price.Price)}
		var ok bool
		if line.Member, ok = readItem(bad, at, price.Item, f); !ok {
			continue
		}
		key := strings.Join(line.Member, "/")
		if seen[key] {
			bad.Add(fault.At("item").Under(at), ruleDuplicate, "%q has a price already", price.Item)
		}
		seen[key] = true
		p.Lines = append(p.Lines, line)
	}
	if c := w.CasingPrice; c != nil {
		at := fault.At("casing_price")
		p.Casing = &formula.CasingPrice{Amount: readMoney(bad, at, c.Value), Per: readLength(bad, fault.At("per").Under(at), &c.Per)}
	}
	return p
}

func readScale(bad *fault.Collector, at fault.Path, w *openapi.Scale) formula.Divisions {
	if w == nil {
		return nil
	}
	d := make(formula.Divisions, 0, len(*w))
	for i, r := range *w {
		division := formula.Range{Division: readMass(bad, fault.At(i, "division").Under(at), r.Division)}
		if r.UpTo != nil {
			division.UpTo = readMass(bad, fault.At(i, "up_to").Under(at), *r.UpTo)
		}
		d = append(d, division)
	}
	return d
}

func readBalances(bad *fault.Collector, w *openapi.Balances) formula.Balances {
	if w == nil {
		return nil
	}
	scales := make(formula.Balances, 0, len(*w))
	for i := range *w {
		s := &(*w)[i]
		at := fault.At("scales", i)
		b := formula.Balance{Name: s.Name, Ranges: readScale(bad, fault.At("ranges").Under(at), &s.Ranges)}
		if s.Bowl != nil {
			b.Bowl = readMass(bad, fault.At("bowl").Under(at), *s.Bowl)
		}
		if s.Accuracy != nil {
			b.Accuracy = readMass(bad, fault.At("accuracy").Under(at), *s.Accuracy)
		}
		scales = append(scales, b)
	}
	return scales
}

func writeScaleAnswer(asked openapi.ScaleOrder, a scaled, u units) openapi.ScaleAnswer {
	answer := openapi.ScaleAnswer{
		RulebookVersion: rulebook.Version(), Hazards: writeFindings(a.hazards, pointerInFormula), Notes: openapi.Notes{}, Cautions: formulaCautions,
	}
	if a.sheet == nil {
		return answer
	}
	answer.WeighSheet = writeSheet(asked, *a.sheet, u)
	answer.Notes = writeNotes(a.sheet.Notes, pointerInFormula)
	if a.HandUse != nil {
		answer.OnHand = writeHandUse(*a.HandUse, u)
	}
	if a.Filling != nil {
		answer.Stuffing = writeFilling(*a.Filling, u)
	}
	for _, p := range a.ToBuy {
		answer.ToBuy = append(answer.ToBuy, openapi.PartToBuy{
			Pointer: pointerInFormula(p.Member), Name: p.Name, UsablePercent: shown(p.Usable.Percent()), Needed: u.mass(p.Needed), Mass: u.mass(p.Bought),
		})
	}
	if a.Costs != nil {
		answer.Cost = writeCost(*a.Costs, *a.sheet, currencyOf(asked), u)
	}
	return answer
}

func writeSheet(asked openapi.ScaleOrder, s formula.Sheet, u units) *openapi.WeighSheet {
	batch, between := s.Batch(), s.BatchRange()
	w := &openapi.WeighSheet{
		Meat: u.mass(s.Meat()), Batch: u.mass(batch), Additions: u.mass(batch.Minus(s.Meat())),
		Lines: make([]openapi.WeighLine, 0, len(s.Lines)),
	}
	if between.Low.Less(between.High) {
		w.BatchRange = u.massRange(between)
	}
	if finished, ok := s.Finished(); ok {
		w.ExpectedFinished, w.LossPercent = pointerTo(u.mass(finished)), pointerTo(shown(s.Loss.Percent()))
	}
	if !s.StuffingLoss.IsZero() {
		w.StuffingLossPercent, w.Stuffed = pointerTo(shown(s.StuffingLoss.Percent())), pointerTo(u.mass(s.Stuffed()))
	}
	over, under := s.Moved()
	w.OverAsked, w.UnderAsked = writePointers(over), writePointers(under)
	w.AddedWater = writeAddedWater(s, u)
	ranges, bowls := askedRanges(asked.Scale, asked.Scales), s.Bowls()
	for i, l := range s.Lines {
		line := writeLine(l, s, u, scaleUnit(ranges, l.Division))
		line.Order = i + 1
		if l.Role != formula.Meat {
			line.Asked = askedRate(asked.Formula, l)
		}
		if line.Asked != nil {
			line.ComesTo = reached(*line.Asked, l, s)
		}
		writeWork(&line, l, s, bowls[i])
		w.Lines = append(w.Lines, line)
	}
	return w
}

// mostPercent is the most that the contract has for what rounding does to a
// weight; a part of a division that is rounded up may be moved by more.
const mostPercent = 1e8

// writeWork says how a line is weighed.
func writeWork(w *openapi.WeighLine, l formula.Line, s formula.Sheet, at formula.Weighed) {
	if l.Spooned() {
		return
	}
	w.TareGroup = pointerTo(at.Bowl)
	w.Cumulative = &openapi.Mass{Value: significant(massIn(at.Cumulative, w.OnScale.Unit), scaleDigits), Unit: w.OnScale.Unit}
	if b, ok := s.On(l); ok {
		w.ScaleName = pointerTo(b.Name)
	}
	if off, ok := s.LargestError(l); ok && off.Percent() <= mostPercent {
		w.LargestErrorPercent = pointerTo(shown(off.Percent()))
	}
}

// reached returns the rate that the weight on the scale gives, in the unit and
// on the base of the one that was asked; nothing for what is spooned.
func reached(asked openapi.Rate, l formula.Line, s formula.Sheet) *openapi.ReachedRate {
	if l.Spooned() {
		return nil
	}
	w := &openapi.ReachedRate{Unit: asked.Unit, Base: asked.Base, Per: asked.Per}
	if share, ok := sharePerUnit[asked.Unit]; ok {
		base := s.Meat()
		if asked.Base != nil && *asked.Base == openapi.BaseBatch {
			base = s.Batch()
		}
		w.Value = shown(partOf(l.OnScale(), base).Float() / share)
		return w
	}
	per, err := massOf(*asked.Per)
	if err != nil {
		return nil // it was read
	}
	perMeat := partOf(per, s.Meat())
	if v, ok := l.Volume(); ok {
		w.Value = shown(volumeIn(v.Times(perMeat), openapi.VolumeUnit(asked.Unit)))
	} else {
		w.Value = shown(massIn(l.OnScale().Times(perMeat), openapi.MassUnit(asked.Unit)))
	}
	return w
}

// partOf returns a part of a whole that is not nothing.
func partOf(part, whole quantity.Mass) quantity.Ratio {
	r, err := part.Over(whole)
	if err != nil {
		return quantity.Ratio{}
	}
	return r
}

func writePointers(members []fault.Path) []openapi.Pointer {
	pointers := make([]openapi.Pointer, 0, len(members))
	for _, m := range members {
		pointers = append(pointers, pointerInFormula(m))
	}
	return pointers
}

// writeAddedWater is nil when no liquid goes in.
func writeAddedWater(s formula.Sheet, u units) *openapi.AddedWater {
	water := s.AddedWater()
	if len(water.Lines)+len(water.Unknown) == 0 {
		return nil
	}
	w := &openapi.AddedWater{
		Mass: u.mass(water.Sum), OfMeatPercent: percentOf(water.Sum, s.Meat()), Lines: make([]openapi.WaterLine, 0, len(water.Lines)),
		Unknown: writePointers(water.Unknown),
	}
	for _, l := range water.Lines {
		w.Lines = append(w.Lines, openapi.WaterLine{Pointer: pointerInFormula(l.Member), Name: l.Name, Mass: u.mass(l.Mass), Water: u.mass(l.Water)})
	}
	return w
}

func writeHandUse(h formula.HandUse, u units) *openapi.HandUse {
	w := &openapi.HandUse{MeatToUseAll: u.mass(h.MeatOfAll), Parts: make([]openapi.PartUse, 0, len(h.Parts))}
	for _, p := range h.Parts {
		use := openapi.PartUse{Pointer: pointerInFormula(p.Member), Name: p.Name, Limits: p.Limits, Used: u.mass(p.Used), Missing: u.mass(p.Missing)}
		if p.Listed {
			use.OnHand, use.LeftOver = pointerTo(u.mass(p.OnHand)), pointerTo(u.mass(p.LeftOver))
		} else {
			use.ToBuy = pointerTo(u.mass(p.ToBuy))
		}
		w.Parts = append(w.Parts, use)
	}
	return w
}

// casingLength writes a length of casing: millimetres below a metre and metres
// above, or inches below a yard and feet above.
func (u units) casingLength(l quantity.Length) openapi.CasingLength {
	const yard = 3 // feet
	unit, value := openapi.LengthUnitMm, l.Millimetres()
	switch {
	case u.us && shown(l.Feet()) >= yard:
		unit, value = openapi.LengthUnitFt, l.Feet()
	case u.us:
		unit, value = openapi.LengthUnitIn, l.Inches()
	case shown(l.Metres()) >= 1:
		unit, value = openapi.LengthUnitM, l.Metres()
	}
	return openapi.CasingLength{Value: shown(value), Unit: unit}
}

func (u units) casingRange(s formula.Spread[quantity.Length]) openapi.CasingLengthRange {
	return openapi.CasingLengthRange{Low: u.casingLength(s.Low), High: u.casingLength(s.High)}
}

func writeFilling(f formula.Filling, u units) *openapi.Stuffing {
	inCubicMetre := func(d quantity.Density) float64 { return shown(d.GramsPerMillilitre() * kgPerM3) }
	w := &openapi.Stuffing{
		Diameter: u.casingLength(f.Diameter),
		Density: openapi.DensityFound{
			LowKgPerM3: inCubicMetre(f.Density.Low), MiddleKgPerM3: inCubicMetre(f.Density.Middle), HighKgPerM3: inCubicMetre(f.Density.High),
		},
		Stuffed: u.mass(f.Stuffed), Piece: u.mass(f.Mass.Middle), PieceRange: openapi.MassRange{Low: u.mass(f.Mass.Low), High: u.mass(f.Mass.High)},
		CutLength: u.casingLength(f.Cut.Middle), CutLengthRange: u.casingRange(f.Cut),
		Pieces: int(f.Count), PiecesRange: openapi.PieceCountRange{Low: int(f.Counts.Low), High: int(f.Counts.High)},
		Casing: u.casingLength(f.Casing.Middle), CasingRange: u.casingRange(f.Casing),
	}
	if f.DensitySource.Title != "" {
		w.DensitySource = pointerTo(writeCitation(f.DensitySource))
	}
	if f.Last != nil {
		w.LastPiece = &openapi.StuffedPart{Mass: u.mass(f.Last.Mass), CutLength: u.casingLength(f.Last.Cut)}
	}
	return w
}

// currencyOf returns the one currency of the prices of an order.
func currencyOf(asked openapi.ScaleOrder) string {
	if len(asked.Prices) > 0 {
		return asked.Prices[0].Price.Currency
	}
	return asked.CasingPrice.Currency
}

// writeMoney writes a sum with the decimals of its currency, and what is part of
// one with more.
func writeMoney(r quantity.Rational, more int, currency string) openapi.Money {
	c, _ := quantity.ParseCurrency(currency)
	return openapi.Money{Value: r.Text(c.Decimals() + more), Currency: currency}
}

func writeCost(c formula.Costs, s formula.Sheet, currency string, u units) *openapi.Cost {
	w := &openapi.Cost{
		Lines: make([]openapi.LineCost, 0, len(c.Lines)), Priced: writeMoney(c.Sum, 0, currency), WithoutPrice: writePointers(c.Missing),
	}
	for _, l := range c.Lines {
		w.Lines = append(w.Lines, openapi.LineCost{
			Pointer: pointerInFormula(l.Member), Name: l.Name, Bought: u.mass(l.Bought), Cost: writeMoney(l.Cost, moreDecimals, currency),
		})
	}
	if c.Casing != nil {
		w.Casing = pointerTo(writeMoney(*c.Casing, moreDecimals, currency))
	}
	total, ok := c.Total()
	if !ok {
		return w
	}
	w.Total = pointerTo(writeMoney(total, 0, currency))
	per := u.ofPrice()
	each := func(of quantity.Mass) *openapi.ComputedPrice {
		one, err := massOf(per)
		if err != nil {
			return nil // one of it is a mass
		}
		price, err := c.Each(one, of)
		if err != nil {
			return nil // of nothing there is no price
		}
		money := writeMoney(price, moreDecimals, currency)
		return &openapi.ComputedPrice{Value: money.Value, Currency: money.Currency, Per: per}
	}
	w.BatchPrice, w.GreenPrice = each(s.Batch()), each(s.Stuffed())
	if finished, ok := s.Finished(); ok {
		w.FinishedPrice = each(finished)
	}
	return w
}

// askedRanges returns all the divisions of the scales of a question.
func askedRanges(scale *openapi.Scale, scales *openapi.Balances) openapi.Scale {
	var ranges openapi.Scale
	if scale != nil {
		ranges = *scale
	}
	if scales != nil {
		for _, s := range *scales {
			ranges = append(ranges, s.Ranges...)
		}
	}
	return ranges
}

// scaleUnit returns the unit that the division was given in; grams when the
// question gave no scale.
func scaleUnit(asked openapi.Scale, division quantity.Mass) openapi.MassUnit {
	for _, r := range asked {
		if m, err := massOf(r.Division); err == nil && m == division {
			return r.Division.Unit
		}
	}
	return openapi.MassUnitG
}

func writeLine(l formula.Line, s formula.Sheet, u units, unit openapi.MassUnit) openapi.WeighLine {
	w := openapi.WeighLine{
		Pointer: pointerInFormula(l.Member), Name: l.Name, Role: openapi.WeighLineRole(l.Role.String()), Exact: u.mass(l.Exact),
		OfMeatPercent: percentOf(l.OnScale(), s.Meat()), OfBatchPercent: percentOf(l.OnScale(), s.Batch()),
	}
	if l.Spooned() {
		w.Range = u.massRange(l.Range)
		w.Spoons = writeSpoons(l)
		return w
	}
	w.OnScale = &openapi.Mass{Value: significant(massIn(l.OnScale(), unit), scaleDigits), Unit: unit}
	w.Division = &openapi.Mass{Value: significant(massIn(l.Division, unit), scaleDigits), Unit: unit}
	if moved := percentOf(l.OnScale().Minus(l.Exact), l.Exact); !l.Exact.IsZero() && moved <= mostPercent {
		w.RoundingPercent = pointerTo(moved)
	}
	return w
}

func writeShopping(asked openapi.ShoppingOrder, list formula.Shopping, refused []curing.Refused, u units) openapi.ShoppingAnswer {
	w := openapi.ShoppingAnswer{
		RulebookVersion: rulebook.Version(), Items: make([]openapi.ShoppingItem, 0, len(list.Purchases)),
		WithoutPrice: append([]openapi.ItemName{}, list.Unpriced...), LeftOut: make([]openapi.LeftOut, 0, len(refused)), Cautions: formulaCautions,
	}
	currency := ""
	for _, k := range asked.Stock {
		if k.Price != nil {
			currency = k.Price.Currency
		}
	}
	for _, p := range list.Purchases {
		w.Items = append(w.Items, writePurchase(p, currency, u))
	}
	for _, c := range list.Casings {
		w.Casings = append(w.Casings, openapi.CasingToBuy{
			Diameter: u.casingLength(c.Diameter), Pieces: int(c.Pieces), Length: u.casingLength(c.Length.Middle), LengthRange: u.casingRange(c.Length),
			Pointers: pointersOf(c.For),
		})
	}
	if currency != "" {
		w.Priced = pointerTo(writeMoney(list.Sum, 0, currency))
		if len(list.Unpriced) == 0 {
			w.Total = w.Priced
		}
	}
	for _, r := range refused {
		at := fault.At("batches", r.Batch, "formula")
		w.LeftOut = append(w.LeftOut, openapi.LeftOut{
			Pointer: at.Pointer(), Name: asked.Batches[r.Batch].Formula.Name,
			Hazards: writeFindings(r.Hazards, func(member []string) openapi.Pointer { return fault.Path(member).Under(at).Pointer() }),
		})
	}
	return w
}

func writePurchase(p formula.Purchase, currency string, u units) openapi.ShoppingItem {
	w := openapi.ShoppingItem{
		Name: p.Name, Role: openapi.ShoppingItemRole(p.Role.String()), Material: optional[openapi.MaterialKey](p.Material),
		Needed: u.mass(p.Needed), ToBuy: u.mass(p.ToBuy), Pointers: pointersOf(p.For),
	}
	if p.Cure != nil {
		w.Cure = optional[string](p.Cure.Key)
	}
	if !p.OnHand.IsZero() {
		w.OnHand = pointerTo(u.mass(p.OnHand))
	}
	if !p.Pack.IsZero() {
		w.Pack, w.Packs, w.LeftOver = pointerTo(u.mass(p.Pack)), pointerTo(int(p.Packs)), pointerTo(u.mass(p.Over))
	}
	if p.Cost != nil {
		w.Cost = pointerTo(writeMoney(*p.Cost, moreDecimals, currency))
	}
	return w
}

func pointersOf(members []fault.Path) []openapi.Pointer {
	pointers := make([]openapi.Pointer, 0, len(members))
	for _, m := range members {
		pointers = append(pointers, m.Pointer())
	}
	return pointers
}
