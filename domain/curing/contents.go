package curing

import (
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// content is the mass of an agent in a mass of a line, at both ends of what is
// known. It may exceed one where the species is heavier than the substance
// weighed.
type content struct{ low, high float64 }

func (c content) isZero() bool { return c.high == 0 }

func (c content) plus(d content) content { return content{c.low + d.low, c.high + d.high} }

func (c content) times(k float64) content { return content{c.low * k, c.high * k} }

func fraction(f quantity.Between[quantity.Fraction]) content {
	return content{f.Low.Float(), f.High.Float()}
}

// contentOf returns how much of an agent, as a species, is in a line. It
// reports false for a species that the agent can't be expressed as.
func contentOf(l *formula.Line, agent rulebook.Agent, species rulebook.Species) (content, bool) {
	switch agent {
	case rulebook.Nitrite, rulebook.Nitrate, rulebook.NitriteAndNitrate:
		return cureContent(l, agent, species)
	case rulebook.Salt:
		return saltContent(l), species == rulebook.SodiumChloride || species == rulebook.AsAdded
	default:
		return acidContent(l, agent, species)
	}
}

// cureContent counts the nitrite and nitrate salts of a cure.
func cureContent(l *formula.Line, agent rulebook.Agent, species rulebook.Species) (content, bool) {
	as, compound := species.Compound()
	if species != rulebook.AsAdded && !compound {
		return content{}, false
	}
	var cure *rulebook.Cure
	if l.Addition != nil && l.Role == formula.Cure {
		cure = l.Addition.Cure
	}
	if cure == nil {
		return content{}, convertible(agent, species)
	}
	var sum content
	for _, salt := range [...]rulebook.Compound{
		rulebook.CompoundNaNO2, rulebook.CompoundKNO2, rulebook.CompoundNaNO3, rulebook.CompoundKNO3,
	} {
		nitrite := salt == rulebook.CompoundNaNO2 || salt == rulebook.CompoundKNO2
		if nitrite && agent == rulebook.Nitrate || !nitrite && agent == rulebook.Nitrite {
			continue
		}
		factor := 1.0
		if species != rulebook.AsAdded {
			f, err := rulebook.Factor(salt, as)
			if err != nil {
				return content{}, false
			}
			factor = f.Float()
		}
		sum = sum.plus(fraction(cure.Content(salt)).times(factor))
	}
	return sum, true
}

// convertible reports whether the salts of an agent can be expressed as a
// species. Nitrite and nitrate together have none in common.
func convertible(agent rulebook.Agent, species rulebook.Species) bool {
	if species == rulebook.AsAdded {
		return true
	}
	as, ok := species.Compound()
	if !ok {
		return false
	}
	var err error
	switch agent {
	case rulebook.Nitrite:
		_, err = rulebook.Factor(rulebook.CompoundNaNO2, as)
	case rulebook.Nitrate:
		_, err = rulebook.Factor(rulebook.CompoundNaNO3, as)
	default:
		return false
	}
	return err == nil
}

// saltContent counts plain salt, in whatever role it is added, and the salt
// that a cure carries. Salt that came with the meat is not counted.
func saltContent(l *formula.Line) content {
	switch {
	case l.Role == formula.RehydrationWater || l.Addition == nil:
		return content{}
	case l.Addition.Cure != nil:
		return fraction(l.Addition.Cure.Content(rulebook.CompoundNaCl))
	case l.Addition.Material != nil:
		f := l.Addition.Material.AddedSalt()
		return content{f.Float(), f.Float()}
	default:
		return content{}
	}
}

// acids are the materials that count as cure accelerators, acidulants and
// phosphates, by key of package material, with the agents that they count for.
var acids = map[string][]acid{
	"ascorbic-acid":             {{rulebook.CureAccelerators, 0}, {rulebook.AscorbicOrErythorbicAcid, 0}},
	"sodium-ascorbate":          {{rulebook.CureAccelerators, 0}, {rulebook.AscorbateOrErythorbate, 0}},
	"erythorbic-acid":           {{rulebook.CureAccelerators, 0}, {rulebook.AscorbicOrErythorbicAcid, 0}, {rulebook.ErythorbicAcidOrErythorbate, rulebook.CompoundErythorbicAcid}},
	"sodium-erythorbate":        {{rulebook.CureAccelerators, 0}, {rulebook.AscorbateOrErythorbate, 0}, {rulebook.ErythorbicAcidOrErythorbate, rulebook.CompoundSodiumErythorbate}},
	"fumaric-acid":              {{rulebook.FumaricAcid, 0}},
	"glucono-delta-lactone":     {{rulebook.GluconoDeltaLactone, 0}},
	"sodium-acid-pyrophosphate": {{rulebook.SodiumAcidPyrophosphate, 0}, {rulebook.Phosphates, 0}},
}

// acid is an agent that a material counts for, and the compound it is, where a
// row expresses it as another.
type acid struct {
	agent    rulebook.Agent
	compound rulebook.Compound
}

// acidContent counts accelerators, acidulants and phosphates, taken to be pure.
func acidContent(l *formula.Line, agent rulebook.Agent, species rulebook.Species) (content, bool) {
	whole := content{1, 1}
	if l.Addition == nil || l.Addition.Material == nil || l.Role == formula.RehydrationWater {
		return content{}, true
	}
	for _, a := range acids[l.Addition.Material.Key] {
		if a.agent != agent {
			continue
		}
		if species == rulebook.AsAdded {
			return whole, true
		}
		as, ok := species.Compound()
		if !ok || a.compound == 0 {
			return content{}, false
		}
		factor, err := rulebook.Factor(a.compound, as)
		if err != nil {
			return content{}, false
		}
		return whole.times(factor.Float()), true
	}
	return content{}, true
}
