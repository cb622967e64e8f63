// Package openapi holds the contract: the one description of what goes over
// the wire, and the Go code that is generated from it.
//
// The contract is openapi.yaml, written by hand, with its examples as files in
// the folder examples. From it come the models, the router and the strict
// server interface in wire.gen.go; they are plain, and only package api uses
// them. [Source] and [Document] give the embedded contract to whoever serves
// it, checks with it or tests against it. Nothing here computes or checks a
// value.
package openapi

//go:generate go tool -modfile=../deploy/tools/go.mod oapi-codegen -config oapi-codegen.yaml openapi.yaml
