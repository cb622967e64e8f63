// Package api is the edge of the service: it answers HTTP as the contract in
// package openapi says, turns the wire into values of the domain and back, and
// every error into a problem document (RFC 9457).
//
// A request passes, in this order: its id; the access line and the metrics;
// recovery from panics; cross-origin rules; the time limit; then, for an
// operation of the contract, what the client accepts, the media type and the
// coding of the body, its size, and the checks that package contract has
// compiled from the contract, for parameters and body at once; then the
// handler. Handlers are methods of one type, one file for each tag of the
// contract.
//
// [New] is the only way in. The router behind it does not show.
package api
