package rulebook

import "slices"

// Tradition is a traditional product that rows are reserved for by name. The
// zero value is invalid, or none.
type Tradition int

// The traditions with rows.
const (
	DryCuredBaconTradition    Tradition = iota + 1 // dry cured, then matured for at least 4 days
	DryCuredHamTradition                           // jamón, paleta, lomo, cecina, presunto and similar products
	JambonSecTradition                             // jambon sec, jambon sel and similar products, with nitrate only
	RohschinkenTradition                           // dry or wet cured
	CzechSlovakTradition                           // the dried, fermented sausages that the row lists
	SpreadableTradition                            // Mettwurst, Teewurst and similar soft, short-ripened sausages
	RohwurstTradition                              // salami and Kantwurst, made without nitrite
	SaucissonSecTradition                          // saucisson sec and similar products, made without nitrite
	LongCuredChorizoTradition                      // salchichón and chorizo tradicionales de larga curación, made without nitrite
	OtherTradition                                 // traditionally cured, without a row of its own
)

var traditionWords = []string{
	"", "dry-cured-bacon", "dry-cured-ham", "jambon-sec", "rohschinken", "czech-slovak-dried-sausage", "soft-spreadable-sausage",
	"rohwurst-without-nitrite", "saucisson-sec", "long-cured-salchichon-chorizo", "other",
}

// String returns the word used on the wire.
func (t Tradition) String() string { return word(traditionWords, int(t)) }

// ParseTradition reads the word used on the wire.
func ParseTradition(s string) (Tradition, bool) {
	i := parse(traditionWords, s)
	return Tradition(i), i > 0
}

// Traditions returns all of them, in order.
func Traditions() []Tradition {
	return []Tradition{
		DryCuredBaconTradition, DryCuredHamTradition, JambonSecTradition, RohschinkenTradition, CzechSlovakTradition,
		SpreadableTradition, RohwurstTradition, SaucissonSecTradition, LongCuredChorizoTradition, OtherTradition,
	}
}

// Sausage reports whether the tradition is chopped.
func (t Tradition) Sausage() bool {
	switch t {
	case CzechSlovakTradition, SpreadableTradition, RohwurstTradition, SaucissonSecTradition, LongCuredChorizoTradition:
		return true
	default:
		return false
	}
}

// reserved are the traditions that the names of rows mean.
var reserved = map[string][]Tradition{
	dryCuredBaconName:  {DryCuredBaconTradition},
	dryCuredHamName:    {DryCuredHamTradition},
	dryCuredHamAndOnly: {DryCuredHamTradition, JambonSecTradition},
	rohschinkenName:    {RohschinkenTradition},
	czechSausageName:   {CzechSlovakTradition},
	spreadableName:     {SpreadableTradition},
	rohwurstName:       {RohwurstTradition},
	saucissonName:      {SaucissonSecTradition, LongCuredChorizoTradition},
	generalTradition:   {OtherTradition, JambonSecTradition, RohschinkenTradition},
}

// dryCuredHamAndOnly are the products of the nitrate row of dry cured ham.
const dryCuredHamAndOnly = dryCuredHamName + "; also jambon sec, jambon sel and similar products made with nitrate only"

// ReservedFor reports whether the row names a traditional product, and whether
// t is one that it names. A row that names products of another sort, such as
// those sold as organic, names no tradition.
func (l Limit) ReservedFor(t Tradition) (names, is bool) {
	traditions, names := reserved[l.Applies.OnlyNamedProduct]
	return names, slices.Contains(traditions, t)
}

// Ripening is what a row asks of the process, as far as it can be read off a
// plan.
type Ripening struct {
	Days    int  // at least so many, 0 when the row asks for none
	Another bool // whether the row asks for something that a plan does not show, such as a ratio of water to protein
}

// RipeningOf returns what the row asks of the process of a tradition.
func (l Limit) RipeningOf(t Tradition) Ripening {
	switch {
	case l.Applies.OnlyUnderProcessRules == rohwurstProcess:
		return Ripening{Days: 28, Another: true}
	case l.Applies.OnlyUnderProcessRules == saucissonProcess && t == LongCuredChorizoTradition:
		return Ripening{Days: 30}
	case l.Applies.OnlyUnderProcessRules == saucissonProcess:
		return Ripening{Days: 21, Another: true}
	default:
		return Ripening{Another: l.Applies.OnlyUnderProcessRules != ""}
	}
}
