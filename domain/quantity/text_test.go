package quantity_test

import (
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"math"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/quantity"
)

// texts holds a value of every quantity and how it is printed.
func texts(tb testing.TB) []struct {
	value fmt.Stringer
	want  string
} {
	tb.Helper()
	return []struct {
		value fmt.Stringer
		want  string
	}{
		{quantity.MustGrams(453.59237), "453.592 g"},
		{quantity.Mass{}.Minus(quantity.MustGrams(2.5)), "-2.5 g"},
		{ok(quantity.Teaspoons(0.25))(tb), "1.23223 mL"},
		{quantity.MustGramsPerMillilitre(1.2175), "1.2175 g/mL"},
		{quantity.MustPercent(6.25), "6.25 %"},
		{quantity.MustPercent(100.0 / 3), "33.3333 %"},
		{quantity.MustRatio(-1.5), "-1.5"},
		{quantity.MustRational("12.50"), "12.5"},
		{quantity.MustPPM(156.25), "156.25 mg/kg"},
		{quantity.MustCFUPerGram(2.5e6), "2500000 CFU/g"},
		{quantity.MustPPM(156.25).In(quantity.UnitMilligramsPerKilogram), "156.25 mg/kg"},
		{quantity.MustPPM(156.25).In(quantity.UnitGramsPerKilogram), "0.15625 g/kg"},
		{quantity.MustPPM(28000).In(quantity.UnitPercent), "2.8 %"},
		{quantity.MustCFUPerGram(1e7).Measure(), "10000000 CFU/g"},
		{quantity.Measure{}, "nothing measured"},
		{quantity.MustCelsius(32.9), "32.9 °C"},
		{quantity.MustFahrenheit(90), "32.2222 °C"},
		{quantity.MustCelsius(-1.5), "-1.5 °C"},
		{quantity.MustCelsiusDegrees(-2.5), "-2.5 °C"},
		{quantity.MustFahrenheitHours(1200), "666.667 °C h"},
		{quantity.MustFahrenheitHours(1200).In(quantity.UnitDegFHours), "1200 °F h"},
		{quantity.MustFahrenheitHours(1200).In(quantity.UnitDegCHours), "666.667 °C h"},
		{quantity.MustPH(5.3).Measure(), "pH 5.3"},
		{quantity.MustMillimetres(42.5), "42.5 mm"},
		{ok(quantity.SquareMetresPerSecond(4.5e-11))(tb), "4.5e-11 m²/s"},
		{quantity.MustLossPercent(-0.3), "-0.3 %"},
		{ok(quantity.LossPercentPerDay(1.25))(tb), "1.25 % per day"},
		{quantity.MustHumidityPercent(78), "78 %"},
		{quantity.MustWaterActivity(0.91), "0.91"},
		{quantity.MustPH(4.95), "pH 4.95"},
		{quantity.MustGramsPerMillilitre(1.25).Holding(quantity.MustPPM(2000)), "2.5 g/L"},
		{quantity.MustMillimolesPerKilogram(33.3), "33.3 mmol/kg"},
		{quantity.MustMillimolesPerKilogramPH(52.5), "52.5 mmol/(kg pH)"},
		{ok(quantity.Kilopascals(1.49799))(tb), "1.49799 kPa"},
		{quantity.MustMetresPerSecond(0.15), "0.15 m/s"},
		{quantity.MustGramsPerSquareMetreDay(4.7), "4.7 g/(m² day)"},
		{ok(quantity.KilogramsPerSquareMetreSecondPascal(1.75e-8))(tb), "1.75e-08 kg/(m² s Pa)"},
		{quantity.MustMoney("12.5", "USD"), "12.50 USD"},
		{quantity.MustMoney("-1250", "JPY").Currency(), "JPY"},
		{ok(quantity.MustMoney("4.5", "USD").Per(quantity.MustGrams(500)))(tb), "9 USD/kg"},
	}
}

func TestString(t *testing.T) {
	t.Parallel()
	for _, row := range texts(t) {
		if got := row.value.String(); got != row.want {
			t.Errorf("want %q, got %q", row.want, got)
		}
	}
}

// A unit is chosen where an answer is written, so no quantity may slip into
// JSON with one that nobody chose, be it deep inside.
func TestQuantitiesRefuseJSON(t *testing.T) {
	t.Parallel()
	tried := map[string]bool{}
	for _, row := range texts(t) {
		tried[reflect.TypeOf(row.value).Name()] = true
		for where, v := range map[string]any{
			"itself": row.value, "pointed at": &row.value, "in a list": []any{row.value}, "in a map": map[string]any{"v": row.value},
			"in a struct": struct{ V any }{row.value}, "at an end": quantity.Exactly(row.value),
		} {
			if text, err := json.Marshal(v); err == nil {
				t.Errorf("%T %s is written as %s", row.value, where, text)
			}
		}
	}
	if diff := cmp.Diff(quantities(t), slices.Sorted(maps.Keys(tried))); diff != "" {
		t.Errorf("the types of the package, and those tried (-want +got):\n%s", diff)
	}
}

// quantities returns the exported types that hold a float where nobody sees it.
func quantities(t *testing.T) []string {
	t.Helper()
	files, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range files {
		if !strings.HasSuffix(f.Name(), ".go") || strings.HasSuffix(f.Name(), "_test.go") {
			continue
		}
		syntax, err := parser.ParseFile(token.NewFileSet(), f.Name(), nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(syntax, func(n ast.Node) bool {
			spec, isType := n.(*ast.TypeSpec)
			if !isType || !spec.Name.IsExported() {
				return true
			}
			fields, isStruct := spec.Type.(*ast.StructType)
			if !isStruct {
				return false
			}
			for _, field := range fields.Fields.List {
				if len(field.Names) == 1 && !field.Names[0].IsExported() {
					names = append(names, spec.Name.Name)
					break
				}
			}
			return false
		})
	}
	slices.Sort(names)
	return names
}

// A range error says the quantity, the value with its last digit, and the bound
// that it breaks, both in the unit.
func TestRangeErrorSaysWhatIsWrong(t *testing.T) {
	t.Parallel()
	_, tooMuch := quantity.Percent(100.00000001)
	_, tooLittle := quantity.Pounds(-2.5)
	_, cells := quantity.CFUPerGram(1e14)
	_, fraction := quantity.NewFraction(1.5)
	_, ratio := quantity.NewRatio(math.Inf(1))
	_, divisor := quantity.MustGrams(1).DividedBy(quantity.Ratio{})
	_, cold := quantity.Fahrenheit(-500)
	for _, row := range []struct {
		name string
		err  error
		want []string
	}{
		{"just over a whole", tooMuch, []string{"percentage", "from 0 to 100 %", "100.00000001 %"}},
		{"less than nothing", tooLittle, []string{"mass", "at least 0 lb", "-2.5 lb"}},
		{"more cells than a gram holds", cells, []string{"cell count", "1e+13 CFU/g", "1e+14 CFU/g"}},
		{"a plain number", fraction, []string{"fraction", "from 0 to 1,", "1.5"}},
		{"without an end", ratio, []string{"ratio", "finite", "+Inf"}},
		{"by nothing", divisor, []string{"divisor", "more than 0", "got 0"}},
		{"colder than can be", cold, []string{"temperature", "more than -459.67 °F", "-500 °F"}},
	} {
		text := row.err.Error()
		for _, part := range row.want {
			if !strings.Contains(text, part) {
				t.Errorf("%s: %q is not in %q", row.name, part, text)
			}
		}
		if strings.TrimSpace(text) != text || strings.Contains(text, "  ") || strings.Contains(text, " ,") {
			t.Errorf("%s: stray spaces in %q", row.name, text)
		}
	}
}
