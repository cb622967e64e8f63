package api

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/labstack/echo/v4"

	"greenweight/api/contract"
	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/openapi"
	"greenweight/service/formulas"
	"greenweight/service/lots"
	"greenweight/service/request"
	"greenweight/service/store"
)

// Bounds of a problem, the same as in the contract.
const (
	maxEntries   = 100
	maxDetail    = 2000
	maxPointer   = 400
	maxParameter = 200
	maxCode      = 80
	maxInstance  = 2000
	// maxShown is how much of a header is shown in a detail, in characters.
	maxShown = 80
)

const (
	mediaTypeProblem = "application/problem+json"
	// retryAfterSeconds is how long a client should wait for a service that is
	// starting, shutting down or busy.
	retryAfterSeconds = "5"
)

// refusal is a problem that is known by the place that finds it.
type refusal struct {
	slug    problemSlug
	detail  string
	entries []openapi.ProblemEntry
	header  map[string]string // more fields of the answer
}

// Error says what is wrong, for logs.
func (e *refusal) Error() string { return string(e.slug) + ": " + e.detail }

// violationsError is what the contract does not allow in a request.
type violationsError struct{ found []contract.Violation }

// Error counts the violations, for logs.
func (e *violationsError) Error() string {
	return strconv.Itoa(len(e.found)) + " violations of the contract"
}

// refusalOf turns any error into the problem that a client is told of. The
// cause of an internal problem is not in it.
func refusalOf(err error) *refusal {
	if known, ok := errors.AsType[*refusal](err); ok {
		return known
	}
	if broken, ok := errors.AsType[*violationsError](err); ok {
		return refuseViolations(broken.found)
	}
	if wrong, ok := errors.AsType[*fault.Error](err); ok {
		return refuseFault(wrong)
	}
	if out, ok := errors.AsType[*quantity.RangeError](err); ok {
		return &refusal{slug: slugInvalidValue, detail: out.Error()}
	}
	if refused, ok := errors.AsType[*echo.HTTPError](err); ok {
		return refuseHTTP(refused)
	}
	if r := refuseKeeping(err); r != nil {
		return r
	}
	if errors.Is(err, context.DeadlineExceeded) || errors.Is(err, context.Canceled) {
		return &refusal{slug: slugUnavailable, detail: "there was no answer in the time that a request may take"}
	}
	return &refusal{slug: slugInternal}
}

// refuseKeeping makes problems of what keeping lots reports; nil for another
// error.
func refuseKeeping(err error) *refusal {
	var unmatched request.PreconditionError
	switch {
	case errors.As(err, &unmatched):
		return &refusal{slug: slugPreconditionRequired, detail: unmatched.What + " needs If-Match with the ETag of " + unmatched.Of + " as it was read"}
	case errors.As(err, new(*lots.BrokenError)), errors.As(err, new(*formulas.ChangedError)):
		return &refusal{slug: slugBrokenLedger}
	case errors.As(err, new(request.KeyReusedError)):
		return &refusal{slug: slugIdempotencyKeyReused}
	case errors.Is(err, store.ErrFull):
		return &refusal{slug: slugNoRoom}
	case errors.Is(err, store.ErrUncertain):
		return &refusal{slug: slugUnavailable, detail: "the connection to the store was lost while it wrote: send the request again with the same " +
			"Idempotency-Key, and it is done once; without a key, look first whether it was"}
	case errors.Is(err, store.ErrReadOnly):
		return &refusal{slug: slugUnavailable, detail: "the store can be read, but not written; nothing was kept"}
	case errors.Is(err, store.ErrUnavailable):
		return &refusal{slug: slugUnavailable, detail: "the store is busy or can't be reached; nothing was kept"}
	}
	return nil
}

// refuseViolations makes the whole request unreadable when one part of it is.
func refuseViolations(found []contract.Violation) *refusal {
	r := &refusal{slug: slugInvalidValue, entries: make([]openapi.ProblemEntry, 0, len(found))}
	for _, v := range found {
		if v.Malformed {
			r.slug = slugMalformedRequest
		}
		r.entries = append(r.entries, entry(v.Pointer, v.Parameter, v.Code, v.Detail))
	}
	return r
}

func refuseFault(f *fault.Error) *refusal {
	r := &refusal{slug: slugOf(f.Kind), detail: f.Detail}
	if r.slug == slugInternal {
		r.detail = ""
		return r
	}
	for _, v := range f.Violations {
		r.entries = append(r.entries, entry(v.Path.Pointer(), "", v.Code, v.Detail))
	}
	if len(f.Violations) == 0 && f.Code != "" && f.Code != string(r.slug) {
		r.entries = append(r.entries, entry("", "", f.Code, cmp.Or(f.Detail, r.slug.problemType().Means)))
	}
	switch f.Kind { //nolint:exhaustive // only these say more in a header (RFC 6750, section 3)
	case fault.Unauthenticated:
		challenge := scheme + ` realm="greenweight"`
		if f.Code != codeNoKey {
			challenge += `, error="invalid_token"`
		}
		r.header = map[string]string{echo.HeaderWWWAuthenticate: challenge}
	case fault.Forbidden:
		if f.Code == codeScope {
			r.header = map[string]string{echo.HeaderWWWAuthenticate: scheme + ` realm="greenweight", error="insufficient_scope"`}
		}
	}
	return r
}

// slugOf returns the problem type of a kind of fault.
func slugOf(kind fault.Kind) problemSlug {
	switch kind {
	case fault.Malformed:
		return slugMalformedRequest
	case fault.Invalid:
		return slugInvalidValue
	case fault.OutsideModel:
		return slugOutsideModel
	case fault.NoSolution:
		return slugNoSolution
	case fault.NotFound:
		return slugNotFound
	case fault.Conflict:
		return slugConflict
	case fault.Stale:
		return slugStale
	case fault.Unauthenticated:
		return slugUnauthenticated
	case fault.Forbidden:
		return slugForbidden
	}
	return slugInternal
}

// refuseHTTP makes problems of the errors of the router and of the generated
// code, which finds parameters that can't be read.
func refuseHTTP(e *echo.HTTPError) *refusal {
	switch e.Code {
	case http.StatusNotFound:
		return &refusal{slug: slugNotFound, detail: "there is nothing at this path; the documentation is at " + docsPath}
	case http.StatusMethodNotAllowed:
		return &refusal{slug: slugMethodNotAllowed, detail: "the header Allow lists the methods of this path"}
	case http.StatusRequestEntityTooLarge:
		return &refusal{slug: slugTooLarge}
	case http.StatusUnsupportedMediaType:
		return &refusal{slug: slugUnsupportedMediaType}
	case http.StatusBadRequest:
		detail, _ := e.Message.(string)
		return &refusal{slug: slugMalformedRequest, detail: detail}
	case http.StatusServiceUnavailable:
		return &refusal{slug: slugUnavailable}
	}
	return &refusal{slug: slugInternal}
}

// entry returns one entry of a problem, within the bounds of the contract.
func entry(pointer, parameter, code, detail string) openapi.ProblemEntry {
	e := openapi.ProblemEntry{
		Code:   cmp.Or(shorten(code, maxCode), string(slugInvalidValue)),
		Detail: cmp.Or(shorten(detail, maxDetail), "is not valid"),
	}
	if pointer != "" {
		e.Pointer = new(shorten(pointer, maxPointer))
	}
	if parameter != "" {
		e.Parameter = new(shorten(parameter, maxParameter))
	}
	return e
}

// sortEntries orders entries by pointer, then parameter, keeps the first of
// each place, and at most as many as a problem may have.
func sortEntries(entries []openapi.ProblemEntry) []openapi.ProblemEntry {
	place := func(e openapi.ProblemEntry) (pointer, parameter string) {
		if e.Pointer != nil {
			pointer = *e.Pointer
		}
		if e.Parameter != nil {
			parameter = *e.Parameter
		}
		return pointer, parameter
	}
	compare := func(a, b openapi.ProblemEntry) int {
		ap, aq := place(a)
		bp, bq := place(b)
		return cmp.Or(strings.Compare(ap, bp), strings.Compare(aq, bq))
	}
	entries = slices.Clone(entries)
	slices.SortStableFunc(entries, compare)
	entries = slices.CompactFunc(entries, func(a, b openapi.ProblemEntry) bool { return compare(a, b) == 0 })
	return entries[:min(len(entries), maxEntries)]
}

// summary says in one sentence what the entries of a problem say.
func summary(entries []openapi.ProblemEntry) string {
	if len(entries) == 0 {
		return ""
	}
	first := entries[0]
	text := first.Detail
	switch {
	case first.Pointer != nil && *first.Pointer == "#":
		text = "the body " + text
	case first.Pointer != nil:
		text = *first.Pointer + " " + text
	case first.Parameter != nil:
		text = "the parameter " + *first.Parameter + " " + text
	}
	if more := len(entries) - 1; more > 0 {
		text += "; errors has " + strconv.Itoa(more) + " more"
	}
	return text
}

// problemOf returns the document of a refusal, for the request of an id.
func problemOf(r *refusal, id string) openapi.Problem {
	t := r.slug.problemType()
	problem := openapi.Problem{
		Type:      problemsPath + "/" + string(t.Slug),
		Title:     t.Title,
		Status:    t.Status,
		RequestID: id,
		Errors:    sortEntries(r.entries),
	}
	problem.Detail = new(cmp.Or(shorten(cmp.Or(r.detail, summary(problem.Errors)), maxDetail), t.Means))
	return problem
}

// writeProblem answers with the problem that an error is. It is the error
// handler of the router. After the beginning of an answer it can only log.
func (s *server) writeProblem(err error, c echo.Context) {
	header := c.Response().Header()
	id := header.Get(headerRequestID)
	r := refusalOf(err)
	if t := r.slug.problemType(); t.Status >= http.StatusInternalServerError || c.Response().Committed {
		s.logCause(c.Request().Context(), id, err)
	}
	if c.Response().Committed {
		return
	}
	t := r.slug.problemType()
	problem := problemOf(r, id)
	if instance := c.Request().URL.EscapedPath(); instance != "" {
		problem.Instance = new(shorten(instance, maxInstance))
	}
	var text bytes.Buffer
	if err := openapi.WriteJSON(&text, problem); err != nil {
		s.logCause(c.Request().Context(), id, err)
		c.Response().WriteHeader(http.StatusInternalServerError)
		return
	}
	// Whatever was prepared for another answer does not hold for this one.
	for _, name := range []string{"ETag", "Content-Length", "Content-Encoding", "Content-Security-Policy"} {
		header.Del(name)
	}
	header.Set(echo.HeaderContentType, mediaTypeProblem)
	header.Set(echo.HeaderXContentTypeOptions, "nosniff")
	header.Set(echo.HeaderCacheControl, "no-store")
	if r.slug == slugUnavailable {
		header.Set(echo.HeaderRetryAfter, retryAfterSeconds)
	}
	for name, value := range r.header {
		header.Set(name, value)
	}
	c.Response().WriteHeader(t.Status)
	if _, err := text.WriteTo(c.Response()); err != nil {
		s.logCause(c.Request().Context(), id, err)
	}
}

// shorten returns a text as valid UTF-8 of at most so many characters.
func shorten(text string, most int) string {
	text = strings.ToValidUTF8(text, "\uFFFD")
	if utf8.RuneCountInString(text) <= most {
		return text
	}
	const cut = "..."
	count := 0
	for i := range text {
		if count == most-len(cut) {
			return text[:i] + cut
		}
		count++
	}
	return text
}

// quote returns a text of the client in quotes, cut where it is long.
func quote(text string) string { return strconv.Quote(shorten(text, maxShown)) }

// renamed returns a fault of the domain with its members as member names them;
// another error as it is.
func renamed(err error, member func(fault.Path) fault.Path) error {
	wrong, ok := errors.AsType[*fault.Error](err)
	if !ok {
		return err
	}
	named := *wrong
	named.Violations = slices.Clone(wrong.Violations)
	for i := range named.Violations {
		named.Violations[i].Path = member(named.Violations[i].Path)
	}
	return &named
}
