package drawing

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
)

func TestPlain(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, in, want string }{
		{"untouched", "Würstchen, 2 kg", "Würstchen, 2 kg"},
		{"empty", "", ""},
		{"white space", "  a \t\n b\u00a0c  ", "a b c"},
		{"controls", "a\x00b\x1b[1mc\x7f\u0085d", "ab[1mc d"}, // U+0085 is a line break
		{"direction marks", "a\u202eb\u2066c\u200f", "abc"},
		{"invalid UTF-8", "a\xff\xfeb", "ab"},
		{"not for XML", "a\ufffe\uffffb", "ab"},
		{"markup stays", "<b>&amp;\"'", "<b>&amp;\"'"},
		{"other scripts stay", "香腸 כבד", "香腸 כבד"},
		{"too long", strings.Repeat("é", 121), strings.Repeat("é", 120) + "…"},
		{"just not", strings.Repeat("é", 120), strings.Repeat("é", 120)},
	}
	for _, tc := range tests {
		if got := plain(tc.in); got != tc.want {
			t.Errorf("%s: want %q, got %q", tc.name, tc.want, got)
		}
	}
}

// The pictures need these whatever the reader's own fonts.
func TestTheFontHasWhatTheChartsWrite(t *testing.T) {
	t.Parallel()
	for _, f := range []face{small, smallBold, titleBold} {
		for _, letters := range []string{"°–%→…−()0123456789,.:;", "äöüßÄÖÜéèêñçåøæœ", "łżźćńśąęŁŻ", "čšžřůőű", "Σαλάμι", "Колбаса", "כבד"} {
			if !f.has(letters) {
				t.Errorf("size %v, bold %v: letters missing in %q", f.size, f.bold, letters)
			}
		}
		if f.has("香") {
			t.Errorf("size %v, bold %v: has a letter that the package comment says it lacks", f.size, f.bold)
		}
	}
}

// The advance widths of Liberation Sans, in 2048ths of its size: a digit 1139, the
// space 569, m 1706.
func TestWidth(t *testing.T) {
	t.Parallel()
	tests := []struct {
		text string
		want float64
	}{
		{"", 0},
		{"0", 1139. / 2048 * 16},
		{"00 00", (4*1139. + 569) / 2048 * 16},
		{"mmm", 3 * 1706. / 2048 * 16},
		{"香", 16}, // not in the font: as wide as it is high
		{"0香0", 2*1139./2048*16 + 16},
	}
	for _, tc := range tests {
		if got := small.width(tc.text); got < tc.want-0.01 || got > tc.want+0.01 {
			t.Errorf("%q: want %.3f, got %.3f", tc.text, tc.want, got)
		}
	}
}

func TestFitAndWrap(t *testing.T) {
	t.Parallel()
	digits := func(n int) float64 { return float64(n)*1139./2048*16 + 0.01 } // the ellipsis is 2048 wide: under two digits
	if got := small.fit("0000000000", digits(10)); got != "0000000000" {
		t.Errorf("a text that fits: got %q", got)
	}
	if got := small.fit("0000000000", digits(9)); got != "0000000…" {
		t.Errorf("a text that is a digit too long: got %q", got)
	}
	if got := small.fit("000", 1); got != "" {
		t.Errorf("no room at all: got %q", got)
	}
	tests := []struct {
		name  string
		text  string
		lines int
		want  []string
	}{
		{"one line", "000 000", 2, []string{"000 000"}},
		{"two lines", "000 000 000 000", 2, []string{"000 000", "000 000"}},
		{"cut at the end", "000 000 000 000 000", 2, []string{"000 000", "000 00…"}},
		{"one word too long", "000000000000 000", 2, []string{"000000…", "000"}},
		{"nothing", " ", 2, nil},
	}
	for _, tc := range tests {
		if diff := cmp.Diff(tc.want, small.wrap(tc.text, digits(8), tc.lines)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tc.name, diff)
		}
	}
}

func TestFigures(t *testing.T) {
	t.Parallel()
	if diff := cmp.Diff(
		[]string{"12", "12.5", "0", "−3.2", "0", "1200"},
		[]string{decimal(12.04, 1), decimal(12.5, 1), decimal(-0.01, 1), decimal(-3.2, 1), decimal(0, 2), decimal(1200, 1)},
	); diff != "" {
		t.Errorf("decimals (-want +got):\n%s", diff)
	}
	// Beside a bound of 1200: a figure must not say that it is reached when it is not.
	if diff := cmp.Diff(
		[]string{"612", "1199.6", "1199.99", "1200", "1200.4", "1201"},
		[]string{
			against(612.4, 1200, 0), against(1199.6, 1200, 0), against(1199.99, 1200, 0), against(1200, 1200, 0),
			against(1200.4, 1200, 0), against(1200.6, 1200, 0),
		},
	); diff != "" {
		t.Errorf("beside a bound (-want +got):\n%s", diff)
	}
}

func FuzzPlain(f *testing.F) {
	for _, s := range []string{"", "a b", "\u202e\x00<&>\"'", "香腸", "\xff", strings.Repeat("m ", 200)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p := plain(s)
		if !utf8.ValidString(p) || utf8.RuneCountInString(p) > longest+1 {
			t.Errorf("%q becomes %q", s, p)
		}
		if again := plain(p); utf8.RuneCountInString(p) <= longest && again != p {
			t.Errorf("%q becomes %q and then %q", s, p, again)
		}
		if fit := small.fit(p, 200); small.width(fit) > 200 {
			t.Errorf("%q is %v wide", fit, small.width(fit))
		}
		// Named so, a chart still is a file that can be read and is laid out.
		c := degreeHours()[0].chart
		c.Subject, c.Rule, c.State = s, s, s
		sc, err := c.scene()
		if err != nil {
			t.Fatal(err)
		}
		for _, fault := range laidOut(sc) {
			t.Error(fault)
		}
		if got := of(parsed(t, svgOf(t, c)), "title"); p != "" && len(got) == 0 {
			t.Errorf("no title for %q", p)
		}
	})
}
