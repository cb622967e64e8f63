package rulebook

import (
	"slices"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Calculation is a formula that rules prescribe, as data for answers to cite.
// Where this package computes it, a function of the file does; moisture:protein
// and the salt of method 6 are computed where finished sausage is judged.
type Calculation struct {
	ID         string // stable, kebab-case
	Subject    string
	Expression string
	Basis      string // what the amounts are of
	Source     source.Citation
	Note       string
}

// Calculations returns every calculation, in a fixed order. The slice is the
// caller's.
func Calculations() []Calculation { return slices.Clone(calculations) }

// quoted is the note of handbook pages known from quotations.
const quoted = "as quoted elsewhere; the page was not opened"

var calculations = []Calculation{
	{
		ID: "hb-comminuted", Subject: "agent in chopped or ground meat",
		Expression: "ppm = mass of agent * 1e6 / green weight of the meat block",
		Basis:      "the meat block alone",
		Source:     handbook("chapter 3, pages 11 to 19", source.ReadSecondary, quoted+"; the base (green weight of the meat block, not the finished weight) was read in a copy of the chapter's opening"),
		Note:       "of a blend: mass of blend * fraction of agent * 1e6 / green weight; the fraction (0.0625), not the percentage",
	},
	{
		ID: "hb-pumped", Subject: "agent in pumped or massaged meat",
		Expression: "ppm = mass of agent * pump fraction * 1e6 / mass of pickle",
		Basis:      "the pump fraction is of green weight; the pickle is all of it, with salt, sugar and cure",
		Source:     handbook("chapter 3, page 19", source.ReadSecondary, quoted),
	},
	{
		ID: "hb-immersion-1", Subject: "agent in immersed meat, method one",
		Expression: "ppm = mass of agent * pick-up fraction * 1e6 / mass of pickle",
		Basis:      "short immersion: the pick-up, of green weight, takes the place of the pump",
		Source:     handbook("chapter 3, page 21", source.ReadSecondary, quoted),
	},
	{
		ID: "hb-immersion-2", Subject: "agent in immersed meat, method two (equilibrium)",
		Expression: "ppm = mass of agent * 1e6 / (green weight + mass of pickle)",
		Basis:      "meat and pickle as one system",
		Source:     handbook("chapter 3, page 22", source.ReadSecondary, quoted),
	},
	{
		ID: "hb-dry", Subject: "agent in dry cured meat",
		Expression: "ppm = mass of agent * 1e6 / green weight",
		Basis:      "all of the agent that is applied, not only what is taken up",
		Source:     handbook("chapter 3, pages 24 to 27", source.Memory, recalled),
		Note:       "recalled, not read",
	},
	{
		ID: "hb-skin", Subject: "bellies with the skin on",
		Expression: "effective green weight = 0.9 * weight with the skin on",
		Basis:      "a tenth is skin",
		Source:     handbook("chapter 3, page 28", source.ReadSecondary, quoted),
	},
	{
		ID: "inverse-total", Subject: "dose of a blend whose own mass counts in the base",
		Expression: "c = p * R / (1e6 * a - p)",
		Basis:      "the whole batch; c: mass of blend, p: target in mg/kg, R: mass of everything else, a: fraction of agent in the blend",
		Source:     source.Citation{Title: "Mass balance, algebra", Trust: source.Derived},
		Note:       "the denominator ends in p, not in 1 as it is sometimes printed",
	},
	{
		ID: "wps", Subject: "water-phase salt",
		Expression: "water-phase salt, percent = 100 * salt / (salt + moisture)",
		Basis:      "salt and moisture on the same base",
		Source:     source.Citation{Title: "Definition in general use", Trust: source.Memory, Note: recalled},
		Note:       "recalled, not read; salt / moisture is the brine ratio, which is higher",
	},
	{
		ID: "mpr", Subject: "moisture:protein ratio",
		Expression: "moisture, percent / protein, percent, written x:1",
		Basis:      "the finished product",
		Source: source.Citation{
			Title: "FSIS, Food Standards and Labeling Policy Book", Section: "moisture:protein ratio", Trust: source.Read,
		},
	},
	{
		ID: "trich-salt", Subject: "salt in method 6 against trichinae",
		Expression: "100 * salt / (whole formulation - dry ingredients), cut off to 0.1 percent",
		Basis:      "dry ingredients are salt, sugar, spices and cure",
		Source: source.Citation{
			Title:   "Code of Federal Regulations, title 9, before 2018 (removed by 83 FR 25302)",
			Section: "section 318.10(c)(3)(i), method 6", Trust: source.Memory,
			Note: recalled + "; the tables live on in the FSIS compliance guideline on Trichinella of 2018",
		},
		Note: "recalled, not read; rounds down",
	},
}

// IngoingOnMeat returns the agent in chopped or ground meat, on the meat block.
//
//		p = 1e6 * n / M
//
//	  - n: mass of the agent; of a blend, its fraction of the blend
//	  - M: green weight of the meat block: raw meat, fat and by-products, no
//	    water, salt, spice or extender
//
// It reports fault.Invalid when there is no meat. Source: FSIS Directive 7620.3
// (rev. 1995), chapter 3, pages 11 to 19.
func IngoingOnMeat(agent, meatBlock quantity.Mass) (quantity.PPM, error) {
	return shareOf(agent, meatBlock, "meat_block")
}

// IngoingPumped returns the agent in pumped or massaged meat, on its green
// weight.
//
//		p = 1e6 * n * f / P
//
//	  - n: mass of the agent in the pickle
//	  - f: pump, mass of pickle taken up per green weight
//	  - P: mass of the whole pickle, with its salt, sugar and cure
//
// It reports fault.Invalid when there is no pickle. Source: FSIS Directive
// 7620.3 (rev. 1995), chapter 3, page 19.
func IngoingPumped(agent, pickle quantity.Mass, pump quantity.Fraction) (quantity.PPM, error) {
	inPickle, err := shareOf(agent, pickle, "pickle")
	if err != nil {
		return quantity.PPM{}, err
	}
	return inPickle.Times(pump.Ratio())
}

// IngoingImmersed returns the agent in meat that was immersed for a short time
// (method one), on its green weight: as [IngoingPumped], with the weight gained
// in the pickle for the pump. Errors are the same. Source: FSIS Directive 7620.3
// (rev. 1995), chapter 3, page 21.
func IngoingImmersed(agent, pickle quantity.Mass, pickUp quantity.Fraction) (quantity.PPM, error) {
	return IngoingPumped(agent, pickle, pickUp)
}

// IngoingAtEquilibrium returns the agent in meat that was immersed until meat and
// pickle are alike (method two).
//
//		p = 1e6 * n / (M + P)
//
//	  - n: mass of the agent in the pickle
//	  - M: green weight of the meat
//	  - P: mass of the whole pickle
//
// It reports fault.Invalid when there is neither meat nor pickle. Source: FSIS
// Directive 7620.3 (rev. 1995), chapter 3, page 22.
func IngoingAtEquilibrium(agent, meat, pickle quantity.Mass) (quantity.PPM, error) {
	return shareOf(agent, meat.Plus(pickle), "meat")
}

// IngoingDryCured returns the agent rubbed on dry cured meat, on its green
// weight. All that is applied counts, not only what the meat takes up.
//
//		p = 1e6 * n / M
//
//	  - n: mass of the agent applied
//	  - M: green weight; of bellies with the skin on, [SkinlessWeight]
//
// It reports fault.Invalid when there is no meat. Source: FSIS Directive 7620.3
// (rev. 1995), chapter 3, pages 24 to 27, recalled.
func IngoingDryCured(agent, green quantity.Mass) (quantity.PPM, error) {
	return shareOf(agent, green, "green_weight")
}

// SkinlessWeight returns the green weight that counts of a belly with the skin
// on: nine tenths of it. Source: FSIS Directive 7620.3 (rev. 1995), chapter 3,
// page 28.
func SkinlessWeight(skinOn quantity.Mass) quantity.Mass { return skinlessPart.Of(skinOn) }

// skinlessPart is the handbook's 10 percent for the skin.
var skinlessPart = quantity.MustPercent(90)

// WaterPhaseSalt returns the salt in the water of a product.
//
//		wps = s / (s + w)
//
//	  - s, w: salt and moisture, of the same mass of product
//
// It reports fault.Invalid when there is neither. Source: the definition in
// general use, recalled; s / w is the brine ratio, which is higher.
func WaterPhaseSalt(salt, moisture quantity.Mass) (quantity.PPM, error) {
	return shareOf(salt, salt.Plus(moisture), "moisture")
}

// BlendForMeat returns the mass of a blend that gives a target on the meat
// block, where the blend does not count in the base.
//
//		c = p * M / (1e6 * a)
//
//	  - p: target, M: meat block, a: fraction of the agent in the blend
//
// It reports fault.Invalid when the blend holds none of the agent. Source:
// [IngoingOnMeat] solved for the blend.
func BlendForMeat(target quantity.PPM, meatBlock quantity.Mass, agentInBlend quantity.Fraction) (quantity.Mass, error) {
	return perPart(target.Of(meatBlock), agentInBlend, "agent_in_blend")
}

// AgentForPump returns the mass of the agent to put into a pickle for a target
// on the green weight.
//
//		n = p * P / (1e6 * f)
//
//	  - p: target, P: mass of the whole pickle, f: pump fraction of green weight
//
// It reports fault.Invalid when nothing is pumped. Source: [IngoingPumped]
// solved for the agent.
func AgentForPump(target quantity.PPM, pickle quantity.Mass, pump quantity.Fraction) (quantity.Mass, error) {
	return perPart(target.Of(pickle), pump, "pump")
}

// BlendForBatch returns the mass of a blend that gives a target on the whole
// batch, in which the blend itself counts.
//
//		c = p * R / (1e6 * a - p)
//
//	  - p: target
//	  - R: mass of everything else in the batch
//	  - a: fraction of the agent in the blend
//
// It reports fault.NoSolution when the blend is no stronger than the target:
// no amount of it gets there. Source: mass balance, no constant.
func BlendForBatch(target quantity.PPM, rest quantity.Mass, agentInBlend quantity.Fraction) (quantity.Mass, error) {
	excess := agentInBlend.Float()*1e6 - target.MilligramsPerKilogram()
	if !(excess > 0) {
		return quantity.Mass{}, &fault.Error{
			Kind: fault.NoSolution, Code: "blend-too-weak",
			Detail: "the blend holds " + agentInBlend.String() + " of the agent, no more than the target of " + target.String(),
			Violations: []fault.Violation{{
				Path: fault.At("agent_in_blend"), Code: "blend-too-weak",
				Detail: agentInBlend.String() + " is no more than the target of " + target.String(),
			}},
		}
	}
	k, err := quantity.NewRatio(target.MilligramsPerKilogram() / excess)
	if err != nil {
		return quantity.Mass{}, err
	}
	return rest.Times(k), nil
}

// shareOf returns agent in whole; the fault names the member when whole is
// nothing.
func shareOf(agent, whole quantity.Mass, member string) (quantity.PPM, error) {
	r, err := agent.Over(whole)
	if err != nil {
		return quantity.PPM{}, nothing(member, "the mass that the agent is divided by must be above 0 g, got %s", whole)
	}
	return r.PPM()
}

// perPart returns m divided by part; the fault names the member when part is
// nothing.
func perPart(m quantity.Mass, part quantity.Fraction, member string) (quantity.Mass, error) {
	if part.IsZero() {
		return quantity.Mass{}, nothing(member, "must be above 0 %%, got %s", part)
	}
	k, err := quantity.NewRatio(1 / part.Float())
	if err != nil {
		return quantity.Mass{}, err
	}
	return m.Times(k), nil
}

func nothing(member, format string, seen any) error {
	var bad fault.Collector
	bad.Add(fault.At(member), "not-positive", format, seen)
	return bad.Err("not-positive", "an amount to divide by is missing")
}
