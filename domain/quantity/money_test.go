package quantity_test

import (
	"encoding/json"
	"errors"
	"testing"

	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

func TestMoney(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, amount, code string
		decimals           int
		want               string // as written
	}{
		{"cents", "12.5", "USD", 2, "12.50"}, {"none of them", "1250", "JPY", 0, "1250"}, {"three of them", "1.2345", "KWD", 3, "1.234"},
		{"a saving", "-0.25", "EUR", 2, "-0.25"}, {"less than is shown has no sign", "-0.001", "EUR", 2, "0.00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			m := quantity.MustMoney(c.amount, c.code)
			if got := m.Currency().Decimals(); got != c.decimals {
				t.Errorf("want %d decimals, got %d", c.decimals, got)
			}
			if got := m.String(); got != c.want+" "+c.code {
				t.Errorf("want %s %s, got %s", c.want, c.code, got)
			}
		})
	}
	usd, _ := quantity.ParseCurrency("USD")
	for _, bad := range []string{"", ".", "1.", ".5", "1e3", "0x1", "1.1234567", "--1", "+1", "NaN", "Inf", "1000000001", "1 "} {
		if m, err := quantity.ParseMoney(bad, usd); !errors.As(err, new(*quantity.RangeError)) {
			t.Errorf("%q becomes %s, %v", bad, m, err)
		}
	}
	for _, bad := range []string{"", "usd", "US", "USDT", "U1D"} {
		if c, ok := quantity.ParseCurrency(bad); ok {
			t.Errorf("%q becomes %s", bad, c)
		}
	}
}

// 4.50 for a pound of 453.59237 g is 9.9208 for a kilogram, and 9 for two pounds.
func TestPrice(t *testing.T) {
	t.Parallel()
	pound, err := quantity.Pounds(1)
	if err != nil {
		t.Fatal(err)
	}
	p, err := quantity.MustMoney("4.50", "USD").Per(pound)
	if err != nil {
		t.Fatal(err)
	}
	quantitytest.Near(t, "USD per kg", 9.920802, p.PerKilogram(), 1e-6)
	quantitytest.Near(t, "USD for two pounds", 9, p.Of(pound.Times(quantity.MustRatio(2))).Units(), 1e-12)
	if got := p.String(); got != "9.9208 USD/kg" {
		t.Errorf("got %s", got)
	}
	q, err := quantity.PricePerKilogram(p.PerKilogram(), p.Currency())
	if err != nil || q.String() != p.String() {
		t.Errorf("want %s, got %s, %v", p, q, err)
	}
	if _, err := quantity.MustMoney("1", "USD").Per(quantity.Mass{}); !errors.As(err, new(*quantity.RangeError)) {
		t.Errorf("a price for nothing: %v", err)
	}
	for _, v := range []any{p, quantity.MustMoney("1", "USD")} {
		if _, err := json.Marshal(v); err == nil {
			t.Errorf("%v marshals itself", v)
		}
	}
}
