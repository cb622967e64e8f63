package drawing

import (
	"math"
	"strconv"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	xfont "golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/vg"
)

// Sizes of text, in CSS pixels of the full width. At 375 pixels the smallest is
// 16 * 375/540 = 11.1.
const (
	smallSize = 16.0
	titleSize = 21.0
)

// What a line of text reaches above and below its baseline, in parts of its
// size: capitals with an accent, and the descenders.
const (
	ascent  = 0.80
	descent = 0.22
)

// longest is the most characters of a name that are kept.
const longest = 120

// face is a font at a size.
type face struct {
	size float64
	bold bool
}

var (
	small     = face{size: smallSize}
	smallBold = face{size: smallSize, bold: true}
	titleBold = face{size: titleSize, bold: true}
)

// fonts are the two that the charts use, read when first needed.
var fonts = sync.OnceValue(func() map[bool]font.Face {
	cache := font.NewCache(liberation.Collection())
	sans := font.Font{Typeface: "Liberation", Variant: "Sans"}
	heavy := sans
	heavy.Weight = xfont.WeightBold
	return map[bool]font.Face{false: cache.Lookup(sans, 1), true: cache.Lookup(heavy, 1)}
})

// vg returns the font as the canvases take it.
func (f face) vg() font.Face {
	v := fonts()[f.bold]
	v.Font.Size = vg.Length(f.size)
	return v
}

// width returns how wide a text is. A letter that the font lacks counts as wide
// as the font is high, which is what one of another font may take.
func (f face) width(s string) float64 {
	known, missing := f.split(s)
	v := f.vg()
	return float64(v.Width(known)) + float64(missing)*f.size
}

// has reports whether the font has every letter of a text.
func (f face) has(s string) bool {
	_, missing := f.split(s)
	return missing == 0
}

func (f face) split(s string) (known string, missing int) {
	var buf sfnt.Buffer
	v := f.vg()
	return strings.Map(func(r rune) rune {
		if i, err := v.Face.GlyphIndex(&buf, r); err != nil || i == 0 {
			missing++
			return -1
		}
		return r
	}, s), missing
}

// fit returns a text cut to a width, with an ellipsis where something is cut.
func (f face) fit(s string, width float64) string {
	if f.width(s) <= width {
		return s
	}
	for s != "" {
		_, n := utf8.DecodeLastRuneInString(s)
		s = s[:len(s)-n]
		if cut := strings.TrimRight(s, " ") + "…"; f.width(cut) <= width {
			return cut
		}
	}
	return ""
}

// wrap breaks a text between words into at most so many lines of a width; the
// last ends in an ellipsis where there is more.
func (f face) wrap(s string, width float64, most int) []string {
	var lines []string
	line := ""
	words := strings.Fields(s)
	for i, w := range words {
		if len(lines) == most-1 {
			return append(lines, f.fit(strings.TrimLeft(line+" "+strings.Join(words[i:], " "), " "), width))
		}
		next := strings.TrimLeft(line+" "+w, " ")
		if line != "" && f.width(next) > width {
			lines = append(lines, f.fit(line, width))
			next = w
		}
		line = next
	}
	if line != "" {
		lines = append(lines, f.fit(line, width))
	}
	return lines
}

// plain returns a name fit to be shown: see the package comment.
func plain(s string) string {
	var b strings.Builder
	space := false
	kept := 0
	for _, r := range s {
		if unicode.IsSpace(r) {
			space = b.Len() > 0
			continue
		}
		if r == utf8.RuneError || !unicode.IsPrint(r) {
			continue
		}
		if kept == longest || space && kept == longest-1 {
			b.WriteRune('…')
			break
		}
		if space {
			b.WriteByte(' ')
			space = false
			kept++
		}
		b.WriteRune(r)
		kept++
	}
	return b.String()
}

// decimal returns a value with at most so many decimals and without zeros at the
// end.
func decimal(v float64, most int) string {
	s := strconv.FormatFloat(v, 'f', most, 64)
	if strings.ContainsRune(s, '.') {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return strings.Replace(s, "-", "−", 1)
}

// against returns a value that is read beside a bound: with as many decimals, up
// to three, as it takes to see on which side of the bound it is.
func against(v, bound float64, least int) string {
	for most := least; most < 3; most++ {
		shown := math.Round(v * math.Pow10(most))
		limit := bound * math.Pow10(most)
		if (v < bound) == (shown < limit) && (v > bound) == (shown > limit) {
			return decimal(v, most)
		}
	}
	return decimal(v, 3)
}
