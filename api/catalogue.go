package api

import (
	"net/http"
	"slices"
)

// problemSlug names a problem type: the last part of its URI.
type problemSlug string

// The problem types of this service.
const (
	slugMalformedRequest     problemSlug = "malformed-request"
	slugInvalidValue         problemSlug = "invalid-value"
	slugOutsideModel         problemSlug = "outside-model"
	slugNoSolution           problemSlug = "no-solution"
	slugUnauthenticated      problemSlug = "unauthenticated"
	slugForbidden            problemSlug = "forbidden"
	slugNotFound             problemSlug = "not-found"
	slugMethodNotAllowed     problemSlug = "method-not-allowed"
	slugNotAcceptable        problemSlug = "not-acceptable"
	slugRequestTimeout       problemSlug = "request-timeout"
	slugConflict             problemSlug = "conflict"
	slugStale                problemSlug = "stale"
	slugTooLarge             problemSlug = "too-large"
	slugUnsupportedMediaType problemSlug = "unsupported-media-type"
	slugIdempotencyKeyReused problemSlug = "idempotency-key-reused"
	slugPreconditionRequired problemSlug = "precondition-required"
	slugBrokenLedger         problemSlug = "broken-ledger"
	slugUnavailable          problemSlug = "unavailable"
	slugNoRoom               problemSlug = "no-room"
	slugInternal             problemSlug = "internal"
)

// problemType is a problem type and what its page says of it.
type problemType struct {
	Slug   problemSlug
	Title  string
	Status int
	Means  string // what happened, for people
	Do     string // what to do about it
}

// catalogue holds the problem types, in the order of their status.
var catalogue = []problemType{
	{
		slugMalformedRequest, "The request can't be read", http.StatusBadRequest,
		"The body is not one JSON value in UTF-8, has a member twice, is nested too deep, ends early or can't be decompressed; or a " +
			"parameter is unknown, repeated or not of its kind.",
		"Look at errors: each entry names the member by a JSON pointer, or the parameter, and says what was seen. Send the request " +
			"again when it is mended; as it is, it will be refused each time.",
	},
	{
		slugUnauthenticated, "Nobody knows who asks", http.StatusUnauthorized,
		"What is asked for belongs to a shop, and the request has no key of one, or a key that is unknown, expired or revoked.",
		"Send a key: Authorization: Bearer gwk_... Whoever runs the service makes keys with greenweight keys add. The calculations " +
			"need no key.",
	},
	{
		slugForbidden, "The key may not do that", http.StatusForbidden,
		"The key is known, but does not have the scope that this needs; or a service without keys was asked by another name than " +
			"those of its own machine.",
		"Ask whoever runs the service for a key with the scope that the detail names, or use 127.0.0.1.",
	},
	{
		slugNotFound, "There is nothing here", http.StatusNotFound,
		"The path is not one of this service, or it names something that is not there.",
		"Compare the path with the documentation. Paths have no slash at the end, and capital letters count.",
	},
	{
		slugMethodNotAllowed, "The path does not take this method", http.StatusMethodNotAllowed,
		"The path exists, but not for this HTTP method.",
		"Use one of the methods in the header Allow of the answer.",
	},
	{
		slugNotAcceptable, "No answer in a form that Accept allows", http.StatusNotAcceptable,
		"The header Accept of the request allows none of the media types that this operation can answer in.",
		"Leave Accept out, or add one of the media types that the detail names.",
	},
	{
		slugRequestTimeout, "The request did not arrive in time", http.StatusRequestTimeout,
		"The body was announced, but did not arrive to its end in the time that a request may take.",
		"Send it again. When it happens often, look at the connection, or send the body compressed with gzip.",
	},
	{
		slugConflict, "What is kept forbids it", http.StatusConflict,
		"The request is sound, but goes against what was recorded before: a batch that is mixed can't be mixed again, a piece can't " +
			"weigh two things at one moment, and a correction may not leave a contradiction. Nothing was kept.",
		"Read the lot and look at errors: the details name the entries that stand against it. What was recorded wrongly is put right " +
			"by a corrected or retracted entry.",
	},
	{
		slugStale, "It has changed since it was read", http.StatusPreconditionFailed,
		"If-Match names another version of the lot than there is now: somebody recorded something meanwhile. Nothing was kept.",
		"Read the lot again, look whether the change is still right, and send it with the new ETag.",
	},
	{
		slugTooLarge, "The body is too large", http.StatusRequestEntityTooLarge,
		"The body is larger than this service reads, as it was sent or after decompression.",
		"Send less at once. The largest body allowed stands in the detail.",
	},
	{
		slugUnsupportedMediaType, "The body is of a kind that is not read here", http.StatusUnsupportedMediaType,
		"The header Content-Type is missing or names another media type or charset than the operation takes, or Content-Encoding " +
			"names a coding other than gzip.",
		"Set Content-Type to one of the media types in the header Accept-Post of the answer; most often that is application/json.",
	},
	{
		slugInvalidValue, "A value is not valid", http.StatusUnprocessableEntity,
		"The request can be read, but a member is missing, unknown, of another kind or out of its bounds, or values do not go together.",
		"Look at errors: every member at fault is there at once, by JSON pointer, with the value seen and what is allowed. A " +
			"missing number is never taken as nothing.",
	},
	{
		slugOutsideModel, "The values lie outside what the model is good for", http.StatusUnprocessableEntity,
		"Each value may be right, but together they lie outside the range that the model behind this answer was validated in, so " +
			"that no number would deserve trust.",
		"The detail names the range. Come back inside it, or rely on measuring.",
	},
	{
		slugNoSolution, "There is no answer to this question", http.StatusUnprocessableEntity,
		"The request is sound, but nothing satisfies all of what it asks for.",
		"The detail says what stands against what. Give way in one of them.",
	},
	{
		slugIdempotencyKeyReused, "The Idempotency-Key came with another request before", http.StatusUnprocessableEntity,
		"The same key was sent with another body or to another path in the last 24 hours, and that request was done. Nothing was done " +
			"for this one.",
		"Make a new key for each thing that you want done, and send it again only with the very same request.",
	},
	{
		slugPreconditionRequired, "Say which version it is for", http.StatusPreconditionRequired,
		"An entry that corrects, retracts or confirms another one is taken only from who has seen the lot as it is now, and If-Match is " +
			"missing.",
		"Read the lot, and send its ETag in If-Match.",
	},
	{
		slugInternal, "Something went wrong here", http.StatusInternalServerError,
		"The service made a mistake. It is not the request's fault, and no result was computed.",
		"Try once more. If it happens again, tell who runs this service the request_id; the cause stands in the log beside it.",
	},
	{
		slugBrokenLedger, "What is kept does not hold", http.StatusInternalServerError,
		"What is kept of this lot or formula was changed, or is not there any more: an entry or version has another digest than the one that " +
			"it was recorded with. Nothing is answered from it, and nothing is added to it.",
		"Ask /v1/lots/{lot_id}/ledger/verification where a ledger breaks. Whoever runs the service has to look for the cause, and to restore a " +
			"copy that holds.",
	},
	{
		slugUnavailable, "The service can't answer now", http.StatusServiceUnavailable,
		"The service is starting, shutting down, can't reach its store, or had no answer in the time that a request may take.",
		"Wait as many seconds as the header Retry-After says, and send the request again; one that records something with the same " +
			"Idempotency-Key, so that it is done once.",
	},
	{
		slugNoRoom, "There is no room left to store", http.StatusInsufficientStorage,
		"The disk or the database that the records are kept on is full. Nothing was kept of this request, and what was kept before is whole.",
		"Whoever runs the service has to make room. Then send the request again.",
	},
}

// problemType returns what the catalogue says of a slug; for one that it does
// not have, which a test excludes, of internal.
func (s problemSlug) problemType() problemType {
	t, ok := findProblemType(string(s))
	if !ok {
		t, _ = findProblemType(string(slugInternal))
	}
	return t
}

func findProblemType(slug string) (problemType, bool) {
	i := slices.IndexFunc(catalogue, func(t problemType) bool { return string(t.Slug) == slug })
	if i < 0 {
		return problemType{}, false
	}
	return catalogue[i], true
}

// ProblemTypes returns the slug of each problem type, in the order of their
// status.
func ProblemTypes() []string {
	slugs := make([]string, 0, len(catalogue))
	for _, t := range catalogue {
		slugs = append(slugs, string(t.Slug))
	}
	return slugs
}
