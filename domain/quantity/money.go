package quantity

import (
	"math"
	"strconv"
	"strings"
)

// Currency is the code of a currency, three capitals as in ISO 4217. Zero value:
// none.
type Currency struct{ code string }

// ParseCurrency reads a code; false for what is not three capitals. Whether the
// code is in use is not checked: the list changes, and nothing is converted.
func ParseCurrency(code string) (Currency, bool) {
	if len(code) != 3 || strings.Trim(code, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != "" {
		return Currency{}, false
	}
	return Currency{code}, true
}

// String returns the code.
func (c Currency) String() string { return c.code }

// MarshalJSON refuses.
func (Currency) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// Decimals returns how many decimals amounts are written with: the minor unit
// of ISO 4217:2015 for the codes that have none or three (from memory), two for
// all others.
func (c Currency) Decimals() int {
	const usual = 2
	switch c.code {
	case "BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "VND", "VUV", "XAF", "XOF", "XPF":
		return 0
	case "BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND":
		return 3
	default:
		return usual
	}
}

// Money is an amount of one currency, as a cost is computed: unrounded and no
// entry in any books. A difference may be negative. Zero value: nothing.
type Money struct {
	units    float64
	currency Currency
}

// mostMoney is the largest amount that keeps six decimals in a float.
const mostMoney = 1e9

// ParseMoney reads an amount as it is written: digits with a point and at most
// six decimals, such as 12.50; a minus before it is a saving. It returns a
// *RangeError for what is no such number or more than a thousand million.
func ParseMoney(amount string, c Currency) (Money, error) {
	size, saved := strings.CutPrefix(amount, "-")
	r, err := ParseRational(size)
	v, _ := r.rat().Float64()
	switch {
	case err != nil:
		v = math.NaN()
	case saved:
		v = -v
	}
	v, err = bounded("amount of money", v, -mostMoney, mostMoney, c.code)
	return Money{v, c}, err
}

// MustMoney is ParseMoney with a currency by its code, for tables and tests; it
// panics on an error.
func MustMoney(amount, code string) Money {
	c, ok := ParseCurrency(code)
	if !ok {
		panic("no currency: " + code)
	}
	return must(ParseMoney(amount, c))
}

// Units returns the amount in units of the currency: dollars, not cents.
func (m Money) Units() float64 { return m.units }

// Currency returns the currency.
func (m Money) Currency() Currency { return m.currency }

// Decimal writes the amount with a number of decimals, at most six.
func (m Money) Decimal(decimals int) string {
	const most = 6
	text := strconv.FormatFloat(m.units, 'f', min(max(decimals, 0), most), 64)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-") // what rounds to nothing has no sign
	}
	return text
}

// Per returns the price of which a mass costs m; *RangeError when the mass is
// not more than nothing, or the price not finite.
func (m Money) Per(mass Mass) (Price, error) {
	if err := positive("mass of a price", mass.grams, "g"); err != nil {
		return Price{}, err
	}
	v, err := bounded("price", m.units/mass.grams, math.Inf(-1), math.Inf(1), m.currency.code+"/g")
	return Price{v, m.currency}, err
}

// String prints the amount and the currency.
func (m Money) String() string { return m.Decimal(m.currency.Decimals()) + " " + m.currency.code }

// MarshalJSON refuses.
func (Money) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// Price is money for mass. A difference of prices may be negative. Zero value:
// for nothing.
type Price struct {
	unitsPerGram float64
	currency     Currency
}

// PricePerKilogram returns a price of so many units of a currency for a
// kilogram; *RangeError when it is not finite.
func PricePerKilogram(units float64, c Currency) (Price, error) {
	v, err := bounded("price", units/gramsPerKilogram, math.Inf(-1), math.Inf(1), c.code+"/g")
	return Price{v, c}, err
}

// PerKilogram returns the price in units of the currency for a kilogram.
func (p Price) PerKilogram() float64 { return p.unitsPerGram * gramsPerKilogram }

// Currency returns the currency.
func (p Price) Currency() Currency { return p.currency }

// Of returns what a mass costs.
func (p Price) Of(m Mass) Money { return Money{p.unitsPerGram * m.grams, p.currency} }

// String prints the price of a kilogram.
func (p Price) String() string {
	return strings.TrimSpace(format(p.PerKilogram())+" "+p.currency.code) + "/kg"
}

// MarshalJSON refuses.
func (Price) MarshalJSON() ([]byte, error) { return nil, errNoJSON }
