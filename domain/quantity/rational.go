package quantity

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"
)

// Rational is an exact number, for sums of money: a tenth is a tenth, and a sum
// does not depend on its order. Zero value: nothing.
type Rational struct{ value *big.Rat }

// ParseRational reads a decimal of up to nine digits before the point and six
// after it, without sign or exponent, such as 12.50. It returns an error for
// everything else.
func ParseRational(s string) (Rational, error) {
	const most, mostAfter = 9, 6
	whole, after, pointed := strings.Cut(s, ".")
	if !digits(whole, most) || pointed && !digits(after, mostAfter) {
		return Rational{}, fmt.Errorf("%q is no decimal of up to %d digits with up to %d after a point", s, most, mostAfter)
	}
	r, _ := new(big.Rat).SetString(s) // it has nothing but digits and a point
	return Rational{r}, nil
}

func digits(s string, most int) bool {
	return s != "" && len(s) <= most && strings.Trim(s, "0123456789") == ""
}

// MustRational is ParseRational for tables and tests; it panics on an error.
func MustRational(s string) Rational { return must(ParseRational(s)) }

// WholeNumber returns n as an exact number.
func WholeNumber(n int64) Rational { return Rational{new(big.Rat).SetInt64(n)} }

// rational returns the number that a float was written as: a float of base units
// keeps every decimal of up to 15 digits, and has noise behind them.
func rational(v float64) Rational {
	const kept = 15
	r, ok := new(big.Rat).SetString(strconv.FormatFloat(v, 'g', kept, 64))
	if !ok { // no quantity is infinite
		return Rational{}
	}
	return Rational{r}
}

// Exact returns the mass in grams as an exact number: 5.7 g are 57/10, and a
// pound is 453.59237.
func (m Mass) Exact() Rational { return rational(m.grams) }

// Exact returns the length in metres as an exact number.
func (l Length) Exact() Rational { return rational(l.metres) }

func (r Rational) rat() *big.Rat {
	if r.value == nil {
		return new(big.Rat)
	}
	return r.value
}

// Plus returns r+s.
func (r Rational) Plus(s Rational) Rational { return Rational{new(big.Rat).Add(r.rat(), s.rat())} }

// Times returns r*s.
func (r Rational) Times(s Rational) Rational { return Rational{new(big.Rat).Mul(r.rat(), s.rat())} }

// Over returns r/s; a *RangeError when s is nothing.
func (r Rational) Over(s Rational) (Rational, error) {
	if s.rat().Sign() == 0 {
		return Rational{}, positive("divisor", 0, "")
	}
	return Rational{new(big.Rat).Quo(r.rat(), s.rat())}, nil
}

// Compare returns -1, 0 or 1 as r is less than, equal to or more than s.
func (r Rational) Compare(s Rational) int { return r.rat().Cmp(s.rat()) }

// IsZero reports whether it is nothing.
func (r Rational) IsZero() bool { return r.rat().Sign() == 0 }

// Text returns the number with so many digits after the point; halves are
// rounded away from zero.
func (r Rational) Text(places int) string { return r.rat().FloatString(places) }

// String prints up to six digits after the point.
func (r Rational) String() string {
	const places = 6
	text := r.Text(places)
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
}

// MarshalJSON refuses.
func (Rational) MarshalJSON() ([]byte, error) { return nil, errNoJSON }
