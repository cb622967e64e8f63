package acidification

import (
	"cmp"
	"math"
	"slices"
	"time"

	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Habit is how a culture makes acid at its best temperature and a usual dose, as
// it is taken before any reading: the middle of what may be.
type Habit struct {
	Lag     time.Duration // before the pH falls
	Until   time.Duration // from the start until the pH is at 5.3, from 5.8 and with a floor of 4.8
	Source  source.Citation
	species string
	fall    float64 // steepest, pH an hour
}

// habits are those of the species that acidify. That they come to what texts say
// of times is tested: 21 to 24 °C 48 to 72 h and 29 to 32 °C 12 to 16 h until a
// fermentation ends, 37 to 40 °C 12 to 18 h (Hutkins 2006, chapter 6); 16 h at 30
// to 32 °C to 5.0; 7 to 8 h to 5.5 and 19 to 21 h to 4.6.
var habits = []Habit{
	habit("latilactobacillus-sakei", 8, 0.07, "laid so that 5.0 is there after two days at 22 °C (Hutkins 2006, chapter 6, quoted: 48 to 72 h at 21 to 24 °C)"),
	habit("latilactobacillus-curvatus", 8, 0.07, "taken to be that of sakei"),
	habit("lactiplantibacillus-plantarum", 5.2, 0.13, "laid so that 5.0 is there after 16 h at 31 °C (Food Science 19(11):36, 1998, abstract read: with pediococcus)"),
	habit("pediococcus-pentosaceus", 5.2, 0.13, "laid so that 5.0 is there after 16 h at 31 °C (Food Science 19(11):36, 1998, abstract read: with L. plantarum)"),
	habit("pediococcus-acidilactici", 4.6, 0.125, "laid along 7 to 8 h to 5.5 and 19 to 21 h to 4.6 (Keller and others, Journal of Milk and Food Technology, 1974, abstract read), taken to be at 36 °C"),
}

// unknownHabit is taken where nothing is said of cultures, and wildHabit where none
// that acidifies was added: some 90 h to 5.3 at 20 °C, if it comes at all.
var (
	unknownHabit = habit("", 7, 0.09, "between that of the species")
	wildHabit    = habit("", 19, 0.022, "Foods 11(5):650 (2022), table 3, read: of three lots without a culture that acidifies one came to 5.3, after 158 h; temperatures not given")
)

func habit(species string, lag, fall float64, note string) Habit {
	const until = 0.5 // pH, from 5.8 to 5.3, half of the fall to 4.8: there all shapes ask for x = 0.5 or little more
	return Habit{
		Lag: fromHours(lag), Until: fromHours(lag + until/fall), species: species, fall: fall,
		Source: source.Citation{Title: "Choice of this project", Trust: source.Derived, Note: note},
	}
}

// HabitOf returns how a species makes acid, and false for one that does not.
func HabitOf(species string) (Habit, bool) {
	i := slices.IndexFunc(habits, func(h Habit) bool { return h.species == species })
	if i < 0 {
		return Habit{}, false
	}
	return habits[i], true
}

// The prior. All spreads are this project's own, chosen with the times above and
// on simulated fermentations, so that the bands hold as often as they say.
const (
	// The pH of the batter: 5.72 to 6.1 in the series of six papers.
	startMean, startSD = 5.82, 0.17
	// Standard deviations of the natural logarithms of lag and fall, and how much
	// a long lag goes with a slow fall: less than nothing, because cells that were
	// few at first are as many in the end, and come to it while still multiplying.
	lagSD, lagSDDosed, fallSD, together = 0.55, 0.5, 0.42, -0.4
	// wider is their factor where the culture is not known, or none was added.
	wider = 1.4
	// The floor of a lot that acidifies, and of one that stalls: final pH 4.5 to
	// 5.15 with cultures; 5.31 to 5.59 where three of five lots without a culture
	// stopped, and up to 5.46 after 6 days with some of seven cultures.
	floorMean, floorSD         = 4.8, 0.2
	stallMean, stallSD         = 5.42, 0.15
	stalls                     = 0.11
	wildFloorMean, wildFloorSD = 5.1, 0.25
	stallsWild                 = 0.5
	// none is the part of the lots without a culture among those of which nothing
	// is said.
	none = 0.03
	// leastDrop is the least fall that a curve has.
	leastDrop = 0.08
	// usualDose is the logarithm of 10^6.5 CFU/g, in the middle of the usual one,
	// and growthAtBest how fast a culture multiplies, an hour: 0.65 at 24 °C and
	// 0.33 at 18 °C, brought to the best temperature of sakei. leastLag is the part
	// of the usual lag that no dose takes away.
	usualDose, growthAtBest = 6.5 * math.Ln10, 1.0
	leastLag                = 0.3
)

// prior is what is known before any reading. Four numbers, each of a standard
// normal distribution, stand for a curve.
type prior struct {
	rate          pace
	lag, fall     float64
	lagSD, fallSD float64
	floors        normals
	until         float64 // thermal hours to 5.3, for the memory of the misfit
	known         bool    // which culture
	wild          *prior  // of the lots without a culture; nil where it is known whether there is one
}

// part is a prior and how likely it is the one.
type part struct {
	*prior
	share float64
}

// parts returns what a prior is made of.
func (p *prior) parts() []part {
	if p.wild == nil {
		return []part{{p, 1}}
	}
	return []part{{p, 1 - none}, {p.wild, none}}
}

// unknowns is how many numbers stand for a curve.
const unknowns = 4

// curveAt returns the curve of a shape that four numbers stand for.
func (p *prior) curveAt(s shape, z *[unknowns]float64) curve {
	c := curve{shape: s, start: startMean + startSD*z[0], floor: p.floors.quantile(z[1])}
	c.floor = math.Min(c.floor, c.start-leastDrop)
	c.lag = p.lag * math.Exp(p.lagSD*z[2])
	c.steepest = p.fall * math.Exp(-p.fallSD*(together*z[2]+math.Sqrt(1-together*together)*z[3]))
	return c
}

// before returns what is known before any reading.
func (o Order) before() prior {
	var added []rulebook.CultureSpecies
	for _, c := range o.Cultures {
		if _, acidifies := HabitOf(c.Key); acidifies {
			added = append(added, c)
		}
	}
	sakei, plantarum := mustSpecies("latilactobacillus-sakei"), mustSpecies("lactiplantibacillus-plantarum")
	p := prior{lagSD: lagSD, fallSD: fallSD, known: true}
	var h Habit
	switch {
	case len(added) > 0:
		slices.SortFunc(added, func(a, b rulebook.CultureSpecies) int {
			x, _ := HabitOf(a.Key)
			y, _ := HabitOf(b.Key)
			return cmp.Or(cmp.Compare(x.Until, y.Until), cmp.Compare(a.Key, b.Key))
		})
		h, _ = HabitOf(added[0].Key)
		p.floors = newNormals(floorMean, floorSD, stallMean, stallSD, stalls)
		p.rate = fastest(added, h)
	case o.wild():
		h = wildHabit
		p = wildPrior()
		p.rate = cardinalOf(sakei).growth
	default:
		h, p.known = unknownHabit, false
		p.lagSD, p.fallSD = lagSD*wider, fallSD*wider
		p.floors = newNormals(floorMean, floorSD, stallMean, stallSD, stalls)
		a, b := cardinalOf(sakei), cardinalOf(plantarum)
		p.rate = func(t float64) float64 { return math.Max(a.growth(t), b.growth(t)) }
		p.wild = new(wildPrior())
	}
	p.lag, p.fall, p.until = h.Lag.Hours(), h.fall, h.Until.Hours()
	if dose, stated := o.Dose.Get(); stated && len(added) > 0 {
		shift := (usualDose - math.Log(math.Max(dose.CFUPerGram(), 1))) / growthAtBest
		p.lag = math.Max(p.lag+shift, leastLag*p.lag)
		p.lagSD = lagSDDosed
	}
	if floor, stated := o.Floor.Get(); stated {
		p.floors = p.floors.notBelow(floor)
		if p.wild != nil {
			p.wild.floors = p.wild.floors.notBelow(floor)
		}
	}
	return p
}

// wild reports whether no culture that acidifies was added.
func (o Order) wild() bool {
	acidifies := func(c rulebook.CultureSpecies) bool {
		_, does := HabitOf(c.Key)
		return does
	}
	return o.Spontaneous || len(o.Cultures) > 0 && !slices.ContainsFunc(o.Cultures, acidifies)
}

// wildPrior returns what is known of a lot without a culture, but for the pace.
func wildPrior() prior {
	return prior{
		lag: wildHabit.Lag.Hours(), fall: wildHabit.fall, lagSD: lagSD * wider, fallSD: fallSD * wider, known: true,
		floors: newNormals(wildFloorMean, wildFloorSD, stallMean, stallSD, stallsWild),
	}
}

// mustSpecies returns a species of the rulebook's table.
func mustSpecies(key string) rulebook.CultureSpecies {
	c, ok := rulebook.CultureByKey(key)
	if !ok {
		panic("no species " + key)
	}
	return c
}

// fastest returns the pace of cultures together: at each temperature that of the
// one that would be at 5.3 first, in the time of the habit h.
func fastest(added []rulebook.CultureSpecies, h Habit) pace {
	type one struct {
		cardinal
		part float64
	}
	var all []one
	for _, c := range added {
		own, _ := HabitOf(c.Key)
		all = append(all, one{cardinalOf(c), float64(h.Until) / float64(own.Until)})
	}
	return func(t float64) float64 {
		rate := 0.0
		for _, c := range all {
			rate = math.Max(rate, c.part*c.growth(t))
		}
		return rate
	}
}

// normals is a mixture of two normal distributions of the floor: of lots that
// acidify, and of those that stall.
type normals struct {
	mean, sd, stallMean, stallSD, stalls float64
	table                                []float64 // quantiles at equal steps of a standard normal number
}

// The steps of the table.
const (
	tableReach = 4.5
	tableSteps = 360
)

func newNormals(mean, sd, stallMean, stallSD, stalls float64) normals {
	n := normals{mean: mean, sd: sd, stallMean: stallMean, stallSD: stallSD, stalls: stalls, table: make([]float64, tableSteps+1)}
	for i := range n.table {
		want := normal(-tableReach + 2*tableReach*float64(i)/tableSteps)
		low, high := mean-10*sd, math.Max(stallMean+10*stallSD, mean+10*sd)
		for range 50 {
			middle := (low + high) / 2
			if (1-stalls)*normal((middle-mean)/sd)+stalls*normal((middle-stallMean)/stallSD) < want {
				low = middle
			} else {
				high = middle
			}
		}
		n.table[i] = (low + high) / 2
	}
	return n
}

// quantile returns the floor that a standard normal number stands for.
func (n *normals) quantile(z float64) float64 {
	at := math.Min(math.Max((z+tableReach)/(2*tableReach)*tableSteps, 0), tableSteps)
	i := min(int(at), tableSteps-1)
	return n.table[i] + (at-float64(i))*(n.table[i+1]-n.table[i])
}

// otherStalls is the part of the lots that stall for another reason than sugar.
// Choice of this project.
const otherStalls = 0.5

// notBelow returns the distribution of a floor that sugar keeps from being lower
// than a range. That the sugar is known takes away one reason to stall.
func (n *normals) notBelow(sugar quantity.Between[quantity.PH]) normals {
	const own = 0.08 // what the range leaves out. Choice of this project
	low, high := sugar.Low.Float(), sugar.High.Float()
	mean, sd := (low+high)/2, math.Hypot((high-low)/4, own)
	stalls := n.stalls * otherStalls
	if mean < n.mean {
		mean, sd = n.mean, n.sd
	}
	return newNormals(mean, sd, math.Max(n.stallMean, mean+2*own), n.stallSD, stalls)
}

// normal returns the standard normal distribution up to z.
func normal(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
