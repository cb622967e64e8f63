package material

import (
	_ "embed" // the composition table is part of the program
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"sync"

	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

//go:embed composition.csv
var compositionTable string

// catalogue is the table and the pure substances, read once. The table is
// compiled in and checked by the tests, so that a row that can't be read is a
// fault of the program and panics.
var catalogue = sync.OnceValue(func() []Material {
	rows, err := parse(strings.NewReader(compositionTable))
	if err != nil {
		panic(err)
	}
	rows = append(rows, substances()...)
	for i := range rows {
		if d, ok := densities[rows[i].Key]; ok {
			rows[i].BulkDensity, rows[i].DensitySource = d.between, d.source
		}
	}
	return rows
})

var byKey = sync.OnceValue(func() map[string]Material {
	index := make(map[string]Material)
	for _, m := range catalogue() {
		index[m.Key] = m
	}
	return index
})

// All returns every material, check products too, in a fixed order. The slice
// is the caller's.
func All() []Material { return slices.Clone(catalogue()) }

// ByKey returns the material with a key, and false when there is none.
func ByKey(key string) (Material, bool) {
	m, ok := byKey()[key]
	return m, ok
}

// Water returns plain water.
func Water() Material { return byKey()[keyWater] }

// columns are the headings of the composition table, in order.
var columns = strings.Split("key,group,ndb_no,fdc_id,description,nitrogen_factor,water_g,protein_g,fat_g,ash_g,carbohydrate_g,"+
	"fibre_g,sugars_g,alcohol_g,energy_kcal,energy_kj,saturated_fat_g,trans_fat_g,monounsaturated_fat_g,polyunsaturated_fat_g,"+
	"cholesterol_mg,sodium_mg,potassium_mg,calcium_mg,iron_mg,phosphorus_mg,vitamin_d_ug,macro_sum_g", ",")

// groups are the group words of the table.
var groups = map[string]Group{
	"pork": PorkMeat, "beef": BeefMeat, "veal": VealMeat, "lamb": LambMeat, "game": GameMeat, "poultry": PoultryMeat,
	"fat": AnimalFat, "salt_sugar": SaltOrSugar, "dairy": Dairy, "wine": Wine, "water": WaterGroup, "spice": Spice,
	"binder": Binder, "check_product": CheckProduct,
}

// parse reads a composition table: a heading and rows per 100 g, in the columns
// of the embedded one. An empty cell is an unknown value. It reports the line and
// the column of the first cell that can't be read.
func parse(r io.Reader) ([]Material, error) {
	lines := csv.NewReader(r)
	lines.FieldsPerRecord = len(columns)
	heading, err := lines.Read()
	if err != nil {
		return nil, fmt.Errorf("read heading of composition table: %w", err)
	}
	if !slices.Equal(heading, columns) {
		return nil, fmt.Errorf("composition table has columns %q, want %q", heading, columns)
	}
	var rows []Material
	seen := map[string]bool{}
	for {
		cells, err := lines.Read()
		if errors.Is(err, io.EOF) {
			return rows, nil
		}
		if err != nil {
			return nil, fmt.Errorf("read composition table: %w", err)
		}
		m, err := parseRow(cells)
		if err != nil {
			line, _ := lines.FieldPos(0)
			return nil, fmt.Errorf("line %d of composition table: %w", line, err)
		}
		if seen[m.Key] {
			return nil, fmt.Errorf("key %q stands twice in composition table", m.Key)
		}
		seen[m.Key] = true
		rows = append(rows, m)
	}
}

func parseRow(cells []string) (Material, error) {
	row := reader{cells: cells}
	m := Material{
		Key:         strings.ReplaceAll(row.text("key"), "_", "-"),
		Description: row.text("description"),
		NDB:         row.text("ndb_no"),
		FoodDataID:  row.text("fdc_id"),
		Composition: Composition{
			NitrogenFactor:     cell(&row, "nitrogen_factor", quantity.NewRatio),
			Water:              cell(&row, "water_g", quantity.Percent),
			Protein:            cell(&row, "protein_g", quantity.Percent),
			Fat:                cell(&row, "fat_g", quantity.Percent),
			Ash:                cell(&row, "ash_g", quantity.Percent),
			Carbohydrate:       cell(&row, "carbohydrate_g", quantity.Percent),
			Fibre:              cell(&row, "fibre_g", quantity.Percent),
			Sugars:             cell(&row, "sugars_g", quantity.Percent),
			Alcohol:            cell(&row, "alcohol_g", quantity.Percent),
			Energy:             row.energy(),
			SaturatedFat:       cell(&row, "saturated_fat_g", quantity.Percent),
			TransFat:           cell(&row, "trans_fat_g", quantity.Percent),
			MonounsaturatedFat: cell(&row, "monounsaturated_fat_g", quantity.Percent),
			PolyunsaturatedFat: cell(&row, "polyunsaturated_fat_g", quantity.Percent),
			Cholesterol:        cell(&row, "cholesterol_mg", milligramsPer100g),
			Sodium:             cell(&row, "sodium_mg", milligramsPer100g),
			Potassium:          cell(&row, "potassium_mg", milligramsPer100g),
			Calcium:            cell(&row, "calcium_mg", milligramsPer100g),
			Iron:               cell(&row, "iron_mg", milligramsPer100g),
			Phosphorus:         cell(&row, "phosphorus_mg", milligramsPer100g),
			VitaminD:           cell(&row, "vitamin_d_ug", microgramsPer100g),
		},
	}
	m.Group = groups[row.text("group")]
	if m.Group == 0 {
		row.fail("group", fmt.Errorf("unknown group %q", row.text("group")))
	}
	if m.Key == "" || m.NDB == "" || m.Description == "" {
		row.fail("key", errors.New("row without key, number or description"))
	}
	m.Species = speciesOf(m)
	m.Note = notes[m.Key]
	m.Source = source.Citation{
		Title: "USDA National Nutrient Database for Standard Reference, Release 28",
		Year:  2015, Section: "NDB No. " + m.NDB, Trust: source.Read, Note: "as revised in May 2016",
	}
	return m, row.err
}

// reader reads the cells of one row and keeps the first error.
type reader struct {
	cells []string
	err   error
}

func (r *reader) text(column string) string { return r.cells[slices.Index(columns, column)] }

func (r *reader) fail(column string, err error) {
	if r.err == nil {
		r.err = fmt.Errorf("column %s: %w", column, err)
	}
}

func (r *reader) energy() Known[Energy] {
	kcal, kj := r.text("energy_kcal"), r.text("energy_kj")
	if kcal == "" && kj == "" {
		return Known[Energy]{}
	}
	kilocalories, err := strconv.ParseUint(kcal, 10, 16)
	if err != nil {
		r.fail("energy_kcal", err)
	}
	kilojoules, err := strconv.ParseUint(kj, 10, 16)
	if err != nil {
		r.fail("energy_kj", err)
	}
	return Is(Energy{int(kilocalories), int(kilojoules)})
}

// cell reads a number as a quantity; an empty cell is unknown.
func cell[T any](r *reader, column string, convert func(float64) (T, error)) Known[T] {
	text := r.text(column)
	if text == "" {
		return Known[T]{}
	}
	f, err := strconv.ParseFloat(text, 64)
	if err != nil {
		r.fail(column, err)
		return Known[T]{}
	}
	v, err := convert(f)
	if err != nil {
		r.fail(column, err)
		return Known[T]{}
	}
	return Is(v)
}

func milligramsPer100g(mg float64) (quantity.PPM, error) { return quantity.PartsPerMillion(mg * 10) }

func microgramsPer100g(ug float64) (quantity.PPM, error) { return quantity.PartsPerMillion(ug / 100) }

// speciesOf returns the animal that a row of the table comes from.
func speciesOf(m Material) Species {
	switch m.Group {
	case PorkMeat:
		return Pork
	case BeefMeat:
		return Beef
	case VealMeat:
		return Veal
	case LambMeat:
		return Lamb
	case GameMeat, PoultryMeat, AnimalFat:
		return animals[m.Key]
	default:
		return NoSpecies
	}
}

// animals are the species of rows whose group does not tell.
var animals = map[string]Species{
	"venison-deer":                Venison,
	"venison-deer-ground":         Venison,
	"wild-boar":                   WildBoar,
	"chicken-thigh-meat-and-skin": Chicken,
	"duck-meat-and-skin":          Duck,
	"duck-meat-only":              Duck,
	"goose-meat-and-skin":         Goose,
	"pork-backfat":                Pork,
	"pork-belly":                  Pork,
	"pork-separable-fat":          Pork,
	"lard":                        Pork,
	"beef-tallow":                 Beef,
}

// notes are what a reader must know of single rows.
var notes = map[string]string{
	"vinegar-red-wine":   "its acid is counted in no column: the parts come to 95 percent",
	"pepper-black":       "the parts come to about 95 percent: the nitrogen factor leaves a rest",
	"pepper-white":       "the parts come to about 94 percent: the nitrogen factor leaves a rest",
	"wild-boar":          "the parts come to about 98 percent; sodium is not given",
	"beef-ground-90-10":  "by analysed fat; what a butcher sells by eye under the same name may differ",
	"beef-ground-80-20":  "by analysed fat; what a butcher sells by eye under the same name may differ",
	"beef-ground-70-30":  "by analysed fat; what a butcher sells by eye under the same name may differ",
	"wine-table-red":     "the alcohol leaves with the water on drying",
	"wine-table-white":   "the alcohol leaves with the water on drying",
	"wine-dessert-sweet": "the alcohol leaves with the water on drying",
	"corn-syrup-light":   "its sugars include maltose; a culture may be slow on them",
	"chili-powder":       "a blend with salt",
}
