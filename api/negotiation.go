package api

import (
	"cmp"
	"context"
	"mime"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"
)

const (
	mediaTypeJSON = "application/json"
	mediaTypeSVG  = "image/svg+xml"
	mediaTypePNG  = "image/png"
)

// mediaTypeKey is the key of the context under which the media type of the
// answer stands.
type mediaTypeKey struct{}

// negotiate chooses the media type of the answer by what the client accepts and
// leaves it in the context of the request, where an operation that has several
// finds it by [answerType]. Their answers vary by Accept, and say so.
func (op operation) negotiate(c echo.Context) error {
	req := c.Request()
	if len(op.produces) > 1 {
		c.Response().Header().Add(echo.HeaderVary, echo.HeaderAccept)
	}
	chosen, ok := choose(req.Header.Values(echo.HeaderAccept), op.produces)
	if !ok {
		return &refusal{slug: slugNotAcceptable, detail: "the answer can be had as " + strings.Join(op.produces, " or ") +
			", which Accept does not allow"}
	}
	if len(op.produces) > 1 {
		c.SetRequest(req.WithContext(context.WithValue(req.Context(), mediaTypeKey{}, chosen)))
	}
	return nil
}

// answerType returns the media type that was chosen for the answer; JSON where
// the operation has no other.
func answerType(ctx context.Context) string {
	chosen, ok := ctx.Value(mediaTypeKey{}).(string)
	if !ok {
		return mediaTypeJSON
	}
	return chosen
}

// inOrder sorts media types by how they are offered: JSON, then the picture that
// keeps sharp at any size, then the other, then the rest by name.
func inOrder(mediaTypes []string) {
	rank := func(mediaType string) int {
		offered := []string{mediaTypeJSON, mediaTypeSVG, mediaTypePNG}
		if i := slices.Index(offered, mediaType); i >= 0 {
			return i
		}
		return len(offered)
	}
	slices.SortFunc(mediaTypes, func(a, b string) int {
		return cmp.Or(cmp.Compare(rank(a), rank(b)), strings.Compare(a, b))
	})
}

// choose returns the media type that the Accept fields of a request like best,
// and whether they allow one at all (RFC 9110, section 12.5.1). Of several
// ranges that cover a type the most specific gives its weight; the type of the
// greatest weight is chosen, of several as heavy the one that is named more
// specifically, then the one that is offered first. Without a field the first is
// chosen; a range that can't be read allows nothing. A type of the form x+json,
// and the YAML of a contract, are also found by their general names.
func choose(fields, produced []string) (mediaType string, ok bool) {
	if len(fields) == 0 {
		return produced[0], true
	}
	var best liking
	for _, offered := range produced {
		if l := likingOf(fields, offered); l.weight > 0 && l.over(best) {
			best, mediaType = l, offered
		}
	}
	return mediaType, best.weight > 0
}

// liking says how a client likes a media type: the weight that it gives it, and
// how specifically it names it.
type liking struct {
	weight   float64
	specific int
}

// over tells whether this is liked better than another.
func (l liking) over(m liking) bool {
	return cmp.Or(cmp.Compare(l.weight, m.weight), cmp.Compare(l.specific, m.specific)) > 0
}

// likingOf returns what the Accept fields say of a media type; nothing where no
// range covers it.
func likingOf(fields []string, mediaType string) liking {
	var l liking
	for text := range strings.SplitSeq(strings.Join(fields, ","), ",") {
		name, parameters, err := mime.ParseMediaType(text)
		if err != nil {
			continue
		}
		weight := 1.0
		if q, given := parameters["q"]; given {
			if weight, err = strconv.ParseFloat(q, 64); err != nil || !(weight >= 0 && weight <= 1) {
				continue
			}
		}
		if specific := covers(name, mediaType); specific > l.specific {
			l = liking{weight, specific}
		}
	}
	return l
}

// covers says how specifically a range of Accept names a media type: 0 not at
// all, 1 by */*, 2 by its main type, 3 by a general name, 4 by its own.
func covers(name, mediaType string) int {
	mainType, _, _ := strings.Cut(mediaType, "/")
	switch name {
	case mediaType:
		return 4
	case "application/json":
		if strings.HasSuffix(mediaType, "+json") {
			return 3
		}
	case "application/yaml", "application/x-yaml", "text/yaml", "text/x-yaml":
		if mediaType == mediaTypeYAML {
			return 3
		}
	case mainType + "/*":
		return 2
	case "*/*":
		return 1
	}
	return 0
}
