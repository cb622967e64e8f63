// Package contract answers one question: does a request say what the service's
// OpenAPI document allows it to say? [Compile] turns the document into a tree of
// checks once, at start; [Operation.CheckBody] walks the text of a JSON body (or
// of one line of an NDJSON body) against that tree without building values, and
// [Operation.CheckParameters] does the same for path, query and header
// parameters. Every violation is collected, with a pointer to the member, a
// stable code and a detail for people.
//
// # What is checked
//
// Compile refuses a document that uses a keyword which would not be checked, so
// no rule of the document is silently ignored:
//
//   - objects: properties, required, additionalProperties (false, or one schema
//     for every further member together with maxProperties), minProperties,
//     maxProperties; at most 64 named members
//   - arrays: items, minItems, maxItems
//   - strings: enum, minLength and maxLength in code points, pattern, format
//     date, date-time and uuid
//   - numbers of format double and integers: minimum, maximum and their
//     exclusive forms; an integer needs both bounds
//   - booleans; nullable on everything but an enum
//   - oneOf objects that a discriminator, or the members they require, tell
//     apart
//   - parameters: the scalars above, and in the query arrays of them (style
//     form, repeated or separated by commas)
//
// A default is not filled in; writeOnly, deprecated and texts have no effect. A
// schema may refer to itself.
//
// # Codes
//
// A code is the keyword that was broken, or one of:
//
//   - type: another kind of value, a null where none is allowed, a number that
//     can't be held
//   - syntax: not JSON, text after the value, invalid UTF-8, nested deeper than
//     64 levels; reading ends there
//   - duplicate-member, additional-member, duplicate-parameter,
//     additional-parameter
//   - media-type: the operation has no body of this media type
//
// # Stricter than the schema language
//
// These are refused although a schema validator lets them pass: duplicate
// members, text after the value, invalid UTF-8 and unpaired surrogates, an
// integer written with a point or an exponent (12.0), a number of more than 256
// characters, the second 60, a parameter that is unknown, repeated or not valid
// UTF-8, and in parameters any spelling of a number or boolean that JSON does
// not have.
//
// Sources: OpenAPI Specification 3.0.3 (2020), sections "Schema Object" and
// "Parameter Object"; RFC 8259 (JSON), RFC 7493 (I-JSON) section 2, RFC 6901
// (JSON Pointer) section 6, RFC 3339 (instants), RFC 9562 (UUID).
package contract
