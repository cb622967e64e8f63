package api

import (
	"context"
	"errors"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"slices"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/labstack/echo/v4"

	"greenweight/domain/fault"
	"greenweight/service/request"
	"greenweight/service/shops"
)

const (
	// extensionScope is the member of an operation that names the scope a key
	// needs for it.
	extensionScope = "x-scope"
	// scheme is how a key is sent (RFC 6750).
	scheme = "Bearer"

	codeNoKey       = "no-key"
	codeScope       = "insufficient-scope"
	codeForeignHost = "foreign-host"
)

// asker is who asks, and in which request.
type asker struct {
	shops.Holder
	requestID string
	url       *url.URL // that was asked for
}

// by returns the asker as the ledger names it.
func (a asker) by() request.By {
	return request.By{Shop: a.Shop, Actor: a.Actor, RequestID: a.requestID}
}

// askerKey is the key of the context under which the asker stands.
type askerKey struct{}

// askerOf returns who asks; an error where an operation that needs to know is
// registered without its middleware, which a test excludes.
func askerOf(ctx context.Context) (asker, error) {
	switch a := ctx.Value(askerKey{}).(type) {
	case asker:
		return a, nil
	case func() (asker, error): // a key is needed for a part of what the operation does
		return a()
	}
	return asker{}, errors.New("find out who asks: the operation has no security")
}

// scopeOf returns the scope that an operation needs; "" for one that anybody may
// use. Whether it always does is false for one that needs it for a part of what it
// does.
func scopeOf(op *openapi3.Operation) (scope shops.Scope, always bool, err error) {
	if op.Security == nil || len(*op.Security) == 0 {
		return "", false, nil
	}
	always = !slices.ContainsFunc(*op.Security, func(r openapi3.SecurityRequirement) bool { return len(r) == 0 })
	word, _ := op.Extensions[extensionScope].(string)
	for _, known := range shops.Scopes() {
		if string(known) == word {
			return known, always, nil
		}
	}
	return "", false, errors.New("the operation " + op.OperationID + " needs a key, but no scope that there is")
}

// authenticate finds out who asks, by the key that came with the request, and
// lets pass who may.
func (s *server) authenticate(scope shops.Scope) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			a, err := s.asker(c, scope)
			if err != nil {
				return err
			}
			c.SetRequest(c.Request().WithContext(context.WithValue(c.Request().Context(), askerKey{}, a)))
			return next(c)
		}
	}
}

// authenticateLater lets everybody pass, and finds out who asks when the
// operation wants to know.
func (s *server) authenticateLater(scope shops.Scope) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			find := func() (asker, error) { return s.asker(c, scope) }
			c.SetRequest(c.Request().WithContext(context.WithValue(c.Request().Context(), askerKey{}, find)))
			return next(c)
		}
	}
}

// asker returns who asks, if they may do what a scope stands for.
func (s *server) asker(c echo.Context, scope shops.Scope) (asker, error) {
	req := c.Request()
	holder, err := s.holder(req)
	if err != nil {
		return asker{}, err
	}
	if !holder.May(scope) {
		return asker{}, lacks(scope)
	}
	// What a shop keeps is for whoever holds its key alone.
	c.Response().Header().Set(echo.HeaderCacheControl, "private, no-cache")
	return asker{holder, c.Response().Header().Get(headerRequestID), req.URL}, nil
}

// lacks refuses a key without the scope.
func lacks(scope shops.Scope) error {
	return &fault.Error{Kind: fault.Forbidden, Code: codeScope, Detail: "the key does not have the scope " + string(scope) + ", which this needs"}
}

// holder returns whom the key of a request belongs to. Without a key it is
// whoever can reach a service that is open.
func (s *server) holder(req *http.Request) (shops.Holder, error) {
	given := req.Header.Values(echo.HeaderAuthorization)
	switch {
	case len(given) > 1:
		return shops.Holder{}, &refusal{slug: slugMalformedRequest, detail: "Authorization is given more than once"}
	case len(given) == 1:
		kind, token, _ := strings.Cut(given[0], " ")
		if !strings.EqualFold(kind, scheme) {
			return shops.Holder{}, &fault.Error{
				Kind: fault.Unauthenticated, Code: codeNoKey, Detail: "Authorization must be Bearer and a key of the shop",
			}
		}
		return s.shops.Authenticate(req.Context(), strings.TrimSpace(token))
	case !s.openShop:
		return shops.Holder{}, &fault.Error{
			Kind: fault.Unauthenticated, Code: codeNoKey, Detail: "send a key of the shop: Authorization: Bearer gwk_...; whoever runs " +
				"the service makes one with: greenweight keys add",
		}
	case !isOwnName(req.Host):
		// A page of another site could have its name point here.
		return shops.Holder{}, &fault.Error{
			Kind: fault.Forbidden, Code: codeForeignHost, Detail: "without a key this service answers only by the names of its own " +
				"machine, such as 127.0.0.1, and not as " + quote(req.Host),
		}
	}
	return s.shops.Open(req.Context())
}

// isOwnName tells whether a host is a name by which a machine reaches itself.
func isOwnName(host string) bool {
	name := host
	if h, _, err := net.SplitHostPort(host); err == nil {
		name = h
	}
	if strings.EqualFold(name, "localhost") {
		return true
	}
	ip, err := netip.ParseAddr(strings.Trim(name, "[]"))
	return err == nil && ip.Unmap().IsLoopback()
}
