package blend

import (
	"fmt"

	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// Cut is a meat or fat that may go into the blend. What is not known or not
// wanted is left unknown.
type Cut struct {
	Name     string
	Material *material.Material // nil when the figures are stated
	Species  material.Species   // stated; zero means that of the material

	// Stated: measured, or from the supplier. They win over the table.
	Fat, Moisture, Protein material.Known[quantity.Fraction]

	Price material.Known[quantity.Price]

	OnHand  material.Known[quantity.Mass] // at most so much
	AtLeast material.Known[quantity.Mass]
	Fixed   material.Known[quantity.Mass] // exactly so much goes in

	MinShare, MaxShare material.Known[quantity.Fraction]
	WishedShare        material.Known[quantity.Fraction]
}

// Origin is where a figure of a cut comes from. The zero value means that there
// is none.
type Origin int

// The origins.
const (
	Stated Origin = iota + 1 // in the question
	Table                    // of /v1/reference/materials: an average
	Scaled                   // the table's, in proportion to what is not fat by the stated fat
)

// String returns the word used on the wire.
func (o Origin) String() string {
	switch o {
	case Stated:
		return "stated"
	case Table:
		return "table"
	case Scaled:
		return "scaled"
	default:
		return "unknown"
	}
}

// Figure is one figure of a composition and where it comes from.
type Figure struct {
	Part   material.Known[quantity.Fraction]
	Origin Origin
}

// Figures is the composition of a cut as it is computed with.
type Figures struct{ Fat, Moisture, Protein Figure }

// Figures returns the composition of the cut: what is stated, else what the
// table has. Moisture and protein of meat go with what is not fat, so that a
// stated fat f scales the table's figure by (1 - f)/(1 - f of the table). Source:
// pork of any fatness in the table, within a few points; a computation of this
// project.
func (c Cut) Figures() Figures {
	figures := Figures{Fat: stated(c.Fat), Moisture: stated(c.Moisture), Protein: stated(c.Protein)}
	if c.Material == nil {
		return figures
	}
	table := c.Material.Composition
	if figures.Fat.Origin == 0 {
		figures.Fat = known(table.Fat, Table)
	}
	for _, f := range []struct {
		to   *Figure
		from material.Known[quantity.Fraction]
	}{{&figures.Moisture, table.Water}, {&figures.Protein, table.Protein}} {
		if f.to.Origin != 0 {
			continue
		}
		if figures.Fat.Origin == Table {
			*f.to = known(f.from, Table)
			continue
		}
		*f.to = scaled(f.from, table.Fat, c.Fat)
	}
	return figures
}

func stated(f material.Known[quantity.Fraction]) Figure { return known(f, Stated) }

func known(f material.Known[quantity.Fraction], from Origin) Figure {
	if _, ok := f.Get(); !ok {
		return Figure{}
	}
	return Figure{f, from}
}

// scaled returns a figure of the table in proportion to what is not fat; unknown
// where the table has no lean to tell of.
func scaled(of, tableFat, statedFat material.Known[quantity.Fraction]) Figure {
	figure, ok := of.Get()
	table, tableOK := tableFat.Get()
	fat, fatOK := statedFat.Get()
	if !ok || !tableOK || !fatOK {
		return Figure{}
	}
	lean := table.Complement().Float()
	if lean <= 0 {
		return Figure{}
	}
	part, err := quantity.NewFraction(figure.Float() * fat.Complement().Float() / lean)
	if err != nil {
		return Figure{}
	}
	return Figure{material.Is(part), Scaled}
}

// Animal returns the species of the cut, and false when it is not known.
func (c Cut) Animal() (material.Species, bool) {
	species := c.Species
	if species == 0 && c.Material != nil {
		species = c.Material.Species
	}
	return species, species != 0 && species != material.NoSpecies
}

// check records what is wrong with the cut by itself.
func (c Cut) check(bad *fault.Collector, at fault.Path) {
	const slack = 0.5 // percent: each figure was analysed and rounded alone
	sum, n := 0.0, 0
	for _, f := range []material.Known[quantity.Fraction]{c.Fat, c.Moisture, c.Protein} {
		if v, ok := f.Get(); ok {
			sum += v.Percent()
			n++
		}
	}
	if n > 1 && sum > 100+slack {
		bad.Add(at, "above-whole", "fat, moisture and protein of %s sum to %.6g percent, which is more than the whole", c.Name, sum)
	}
}

// Subject is what a limit is on. The zero value is invalid.
type Subject int

// The subjects.
const (
	Fat Subject = iota + 1
	Lean
	Moisture
	Protein
	WaterProtein // the ratio of moisture to protein
	ShareOfSpecies
)

var subjectWords = []string{"", "fat", "lean", "moisture", "protein", "water-protein-ratio", "species"}

// String returns the word used on the wire.
func (s Subject) String() string {
	if s <= 0 || int(s) >= len(subjectWords) {
		return "unstated"
	}
	return subjectWords[s]
}

// ParseSubject reads the word used on the wire.
func ParseSubject(word string) (Subject, bool) {
	for s := Fat; s <= ShareOfSpecies; s++ {
		if subjectWords[s] == word {
			return s, true
		}
	}
	return 0, false
}

// needs returns the members that a limit on the subject needs of each cut.
func (s Subject) needs() []string {
	switch s {
	case Fat, Lean:
		return []string{"fat_percent"}
	case Moisture:
		return []string{"moisture_percent"}
	case Protein:
		return []string{"protein_percent"}
	case WaterProtein:
		return []string{"moisture_percent", "protein_percent"}
	default:
		return nil
	}
}

// figure returns a figure by the member that states it.
func (f Figures) figure(member string) Figure {
	switch member {
	case "fat_percent":
		return f.Fat
	case "moisture_percent":
		return f.Moisture
	default:
		return f.Protein
	}
}

// of returns the mass fraction of a subject that is one; zero when it is not
// known, which the check of the order excludes where it counts.
func (f Figures) of(s Subject) float64 {
	none := quantity.Fraction{}
	switch s {
	case Fat:
		return f.Fat.Part.Or(none).Float()
	case Lean:
		return f.Fat.Part.Or(none).Complement().Float()
	case Moisture:
		return f.Moisture.Part.Or(none).Float()
	default:
		return f.Protein.Part.Or(none).Float()
	}
}

// Limit is what the blend must keep: on a part of it in percent, or on the ratio
// of water to protein. At least one end is known.
type Limit struct {
	Of      Subject
	Species material.Species // of a limit on the share of a species

	Min, Max, Exact    material.Known[quantity.Fraction]
	MinRatio, MaxRatio material.Known[quantity.Ratio]
}

func (l Limit) name() string {
	switch l.Of {
	case ShareOfSpecies:
		return l.Species.String()
	case WaterProtein:
		return "water:protein"
	default:
		return l.Of.String()
	}
}

// end is one end of a limit.
type end struct {
	member string
	sense  sense
	value  float64 // a fraction, or a ratio
	ratio  bool
}

func (e end) words() string {
	if e.ratio {
		return fmt.Sprintf("%s %.6g", e.sense, e.value)
	}
	return fmt.Sprintf("%s %.6g %%", e.sense, e.value*100)
}

// ends returns the ends that fit the subject.
func (l Limit) ends() []end {
	var ends []end
	for _, e := range []struct {
		member string
		sense  sense
		of     material.Known[quantity.Fraction]
	}{{"min_percent", floor, l.Min}, {"max_percent", ceiling, l.Max}, {"exact_percent", exact, l.Exact}} {
		if v, ok := e.of.Get(); ok && l.Of != WaterProtein {
			ends = append(ends, end{e.member, e.sense, v.Float(), false})
		}
	}
	for _, e := range []struct {
		member string
		sense  sense
		of     material.Known[quantity.Ratio]
	}{{"min_ratio", floor, l.MinRatio}, {"max_ratio", ceiling, l.MaxRatio}} {
		if v, ok := e.of.Get(); ok && l.Of == WaterProtein {
			ends = append(ends, end{e.member, e.sense, v.Float(), true})
		}
	}
	return ends
}

// sense is which side of a figure is asked for.
type sense int

const (
	floor   sense = -1
	exact   sense = 0
	ceiling sense = 1
)

func (s sense) String() string {
	switch s {
	case floor:
		return "at least"
	case ceiling:
		return "at most"
	default:
		return "exactly"
	}
}
