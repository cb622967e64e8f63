package api

import "testing"

func TestChoose(t *testing.T) {
	t.Parallel()
	const html = "text/html"
	pictures := []string{mediaTypeJSON, mediaTypeSVG, mediaTypePNG}
	for _, tc := range []struct {
		name     string
		fields   []string
		produced []string
		want     string // "" when none is allowed
	}{
		{"none", nil, []string{mediaTypeJSON}, mediaTypeJSON},
		{"own name", []string{"application/json"}, []string{mediaTypeJSON}, mediaTypeJSON},
		{"capitals", []string{"Application/JSON"}, []string{mediaTypeJSON}, mediaTypeJSON},
		{"anything", []string{"*/*"}, []string{html}, html},
		{"main type", []string{"text/*"}, []string{html}, html},
		{"other main type", []string{"text/*"}, []string{mediaTypeJSON}, ""},
		{"other", []string{"application/xml"}, []string{mediaTypeJSON}, ""},
		{"one of several", []string{"application/xml, application/json;q=0.1"}, []string{mediaTypeJSON}, mediaTypeJSON},
		{"several fields", []string{"application/xml", "application/json"}, []string{mediaTypeJSON}, mediaTypeJSON},
		{"browser", []string{"text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"}, []string{mediaTypeContractJSON}, mediaTypeContractJSON},
		{"weight of nothing", []string{"application/json;q=0"}, []string{mediaTypeJSON}, ""},
		{"specific before general", []string{"*/*, application/json;q=0"}, []string{mediaTypeJSON}, ""},
		{"general nothing, specific something", []string{"*/*;q=0, application/json"}, []string{mediaTypeJSON}, mediaTypeJSON},
		{"one of two answers", []string{"text/html"}, []string{mediaTypeJSON, html}, html},
		{"general name of a suffix", []string{"application/json"}, []string{mediaTypeContractJSON}, mediaTypeContractJSON},
		{"general name of YAML", []string{"application/yaml"}, []string{mediaTypeYAML}, mediaTypeYAML},
		{"JSON is not YAML", []string{"application/json"}, []string{mediaTypeYAML}, ""},
		{"can't be read", []string{"json"}, []string{mediaTypeJSON}, ""},
		{"empty", []string{""}, []string{mediaTypeJSON}, ""},
		{"weight can't be read", []string{"application/json;q=much"}, []string{mediaTypeJSON}, ""},
		{"weight above one", []string{"application/json;q=2"}, []string{mediaTypeJSON}, ""},
		{"weight is no number", []string{"application/json;q=NaN"}, []string{mediaTypeJSON}, ""},

		{"pictures: nothing said", nil, pictures, mediaTypeJSON},
		{"pictures: anything", []string{"*/*"}, pictures, mediaTypeJSON},
		{"pictures: any picture", []string{"image/*"}, pictures, mediaTypeSVG},
		{"pictures: any picture but one", []string{"image/*, image/svg+xml;q=0"}, pictures, mediaTypePNG},
		{"pictures: by name", []string{"image/png"}, pictures, mediaTypePNG},
		{"pictures: by name in another field", []string{"text/html", "image/png"}, pictures, mediaTypePNG},
		{"pictures: all of the same weight", []string{"image/png, image/svg+xml, application/json"}, pictures, mediaTypeJSON},
		{"pictures: two of the same weight", []string{"image/png;q=0.5, image/svg+xml;q=0.5"}, pictures, mediaTypeSVG},
		{"pictures: the heavier", []string{"application/json;q=0.5, image/svg+xml;q=0.8, image/png;q=0.9"}, pictures, mediaTypePNG},
		{"pictures: the heavier is general", []string{"application/json;q=0.5, image/*;q=0.8"}, pictures, mediaTypeSVG},
		{"pictures: named before anything", []string{"image/png, */*"}, pictures, mediaTypePNG},
		{"pictures: light by name, heavy in general", []string{"*/*, application/json;q=0.1, image/svg+xml;q=0.2"}, pictures, mediaTypePNG},
		{"pictures: an image of a page", []string{"image/avif,image/webp,image/apng,image/svg+xml,image/*,*/*;q=0.8"}, pictures, mediaTypeSVG},
		{"pictures: anything but JSON", []string{"*/*;q=0.1, application/json;q=0"}, pictures, mediaTypeSVG},
		{"pictures: one that there is not", []string{"image/webp"}, pictures, ""},
		{"pictures: none wanted", []string{"*/*;q=0"}, pictures, ""},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			got, ok := choose(tc.fields, tc.produced)
			if got != tc.want || ok != (tc.want != "") {
				t.Errorf("choose(%q, %q) is %q, %t, want %q", tc.fields, tc.produced, got, ok, tc.want)
			}
		})
	}
}
