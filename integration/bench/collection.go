package main

import (
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
)

// collection gives lines of an invented collection, over and over, up to a
// number of lines.
type collection struct {
	lines [][]byte // each with its line feed
	next  int
	left  int
	rest  []byte // of the line that is being read
}

// Read implements [io.Reader].
func (c *collection) Read(p []byte) (int, error) {
	n := 0
	for n < len(p) {
		if len(c.rest) == 0 {
			if c.left == 0 {
				break
			}
			c.rest = c.lines[c.next]
			c.next = (c.next + 1) % len(c.lines)
			c.left--
		}
		copied := copy(p[n:], c.rest)
		c.rest = c.rest[copied:]
		n += copied
	}
	if n == 0 && len(p) > 0 {
		return 0, io.EOF
	}
	return n, nil
}

// invent makes different formulas of about a kilobyte, the same ones for the
// same seed. Nothing in them is anybody's recipe.
func invent(seed uint64, count int) [][]byte {
	random := rand.New(rand.NewPCG(seed, 1)) //nolint:gosec // invented formulas are no secret
	lines := make([][]byte, count)
	for i := range lines {
		lines[i] = inventOne(random, i)
	}
	return lines
}

func inventOne(random *rand.Rand, i int) []byte {
	of := func(words ...string) string { return words[random.IntN(len(words))] }
	between := func(low, high float64) float64 { // with two digits, as people write
		return float64(int((low+(high-low)*random.Float64())*100)) / 100
	}
	fat := 15 + random.IntN(20)
	additions := []string{
		fmt.Sprintf(`{"role":"salt","material":%q,"rate":{"value":%g,"unit":"percent"}}`, of("salt-table", "sea-salt-fine"), between(2.2, 3.2)),
		fmt.Sprintf(`{"role":"cure","cure":{"key":%q},"rate":{"value":%g,"unit":"g_per_kg"}}`, of("cure-1", "cure-1", "cure-1", "cure-2"), between(1.2, 2.8)),
		fmt.Sprintf(`{"role":"sugar","material":%q,"rate":{"value":%g,"unit":"percent"}}`, of("dextrose-monohydrate", "sugar-granulated"), between(0.2, 0.8)),
	}
	if random.IntN(3) > 0 {
		additions = append(additions, fmt.Sprintf(`{"role":"culture","name":"Starter","culture":{"activity_cfu_per_g":%d,"label_dose_g_per_kg":0.2},`+
			`"rate":{"value":%g,"unit":"g_per_kg"},"rehydration_water":{"value":5,"unit":"mL","per":{"value":1,"unit":"kg"}}}`,
			random.Int64N(9e10)+1e10, between(0.1, 0.3)))
	}
	for _, spice := range []string{"pepper-black", "fennel-seed", "garlic-powder", "coriander-seed", "nutmeg", "paprika"}[:3+random.IntN(4)] {
		additions = append(additions, fmt.Sprintf(`{"role":"spice","material":%q,"rate":{"value":%g,"unit":"g_per_kg"}}`, spice, between(0.5, 4)))
	}
	plan := ""
	if random.IntN(2) == 0 {
		plan = fmt.Sprintf(`,"plan":{"loss_percent":%d,"label_keep_refrigerated":%t}`, 30+random.IntN(15), random.IntN(2) == 0)
	}
	return fmt.Appendf(nil, `{"name":"Invented ring no. %d","product":%q,"parts":[{"name":"Lean","material":%q,"share_percent":%d},`+
		`{"name":"Fat","material":%q,"share_percent":%d}],"additions":[%s]%s}`+"\n",
		i, of("dry-sausage", "dry-sausage", "semi-dry-sausage", "spreadable-raw-sausage"),
		of("pork-shoulder-whole-lean-and-fat", "pork-leg-lean-only", "beef-chuck-for-stew-lean-and-fat"), 100-fat,
		of("pork-backfat", "pork-belly"), fat, strings.Join(additions, ","), plan)
}
