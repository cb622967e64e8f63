package contract_test

import (
	"os"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/go-cmp/cmp"

	"greenweight/api/contract"
)

const head = "openapi: 3.0.3\ninfo: {title: t, version: '1'}\n"

// compile compiles a document that may be one which a validator would refuse.
func compile(tb testing.TB, text string) error {
	tb.Helper()
	doc, err := openapi3.NewLoader().LoadFromData([]byte(text))
	if err != nil {
		tb.Fatal(err)
	}
	_, err = contract.Compile(doc)
	return err
}

func withBody(content string) string {
	return head + "paths: {/a: {post: {requestBody: {content: " + content + "}, responses: {default: {description: d}}}}}\n"
}

func withSchema(schema string) string {
	return withBody("{application/json: {schema: {$ref: '#/components/schemas/S'}}}") +
		"components: {schemas: {S: " + schema + ", A: {type: object, additionalProperties: false, required: [k, a], " +
		"properties: {k: {type: string}, a: {type: boolean}}}, B: {type: object, additionalProperties: false, required: [k], " +
		"properties: {k: {type: string}, b: {type: boolean}}}, C: {type: object, additionalProperties: false, required: [c], " +
		"properties: {k: {type: string}, c: {type: boolean}}}, N: {type: object, nullable: true, additionalProperties: false, required: [n], properties: {n: {type: boolean}}}}}\n"
}

func withParameter(parameter string) string {
	return head + "paths: {'/a/{p}': {get: {parameters: [" + parameter + "], responses: {default: {description: d}}}}}\n"
}

// TestCompileRefuses has a row for everything that would not be checked. want is
// the whole error: nothing else in the document may be refused.
func TestCompileRefuses(t *testing.T) {
	t.Parallel()
	const s = "#/components/schemas/S: "
	const body = "#/paths/~1a/post/requestBody"
	const parameter = "#/paths/~1a~1{p}/get/parameters/0"
	manyMembers := "{type: object, additionalProperties: false, properties: {" + strings.TrimSuffix(strings.Repeat("m%: {type: boolean}, ", 65), ", ") + "}}"
	for i := 0; strings.Contains(manyMembers, "%"); i++ {
		manyMembers = strings.Replace(manyMembers, "%", strings.Repeat("x", i), 1)
	}
	tests := []struct{ name, document, want string }{
		{"version", strings.Replace(withSchema("{type: boolean}"), "3.0.3", "3.1.0", 1), "#/openapi: version 3.1.0 is not supported, only 3.0"},

		{"no type", withSchema("{maxLength: 5}"), s + "a schema needs one type, or oneOf"},
		{"any", withSchema("{}"), s + "a schema needs one type, or oneOf"},
		{"unknown type", withSchema("{type: file}"), s + "type file is not known"},
		{"allOf", withSchema("{type: string, allOf: [{type: string}]}"), s + "allOf is not checked for string"},
		{"anyOf", withSchema("{type: string, anyOf: [{type: string}]}"), s + "anyOf is not checked for string"},
		{"not", withSchema("{type: string, not: {type: string}}"), s + "not is not checked for string"},
		{"multipleOf", withSchema("{type: number, format: double, multipleOf: 2}"), s + "multipleOf is not checked for number"},
		{"uniqueItems", withSchema("{type: array, uniqueItems: true, items: {type: boolean}}"), s + "uniqueItems is not checked for array"},
		{"readOnly", withSchema("{type: string, readOnly: true}"), s + "readOnly is not checked for string"},
		{"const", withSchema("{type: string, const: a}"), s + "const is not checked for string"},
		{"keyword of another type", withSchema("{type: boolean, maxLength: 5}"), s + "maxLength is not checked for boolean"},
		{"minimum of a string", withSchema("{type: string, minimum: 5}"), s + "minimum is not checked for string"},
		{"items of an object", withSchema("{type: object, additionalProperties: false, items: {type: boolean}}"), s + "items is not checked for object"},
		{"unknown keyword", withSchema("{type: string, maximumLength: 5}"), s + "maximumLength is not a keyword"},
		{"inside", withSchema("{type: array, items: {type: object, additionalProperties: false, properties: {a/b: {type: string, not: {type: string}}}}}"),
			"#/components/schemas/S/items/properties/a~1b: not is not checked for string"},

		{"open object", withSchema("{type: object}"), s + "an open object is not checked: it needs additionalProperties: false"},
		{"object open on purpose", withSchema("{type: object, additionalProperties: true}"), s + "an open object is not checked: it needs additionalProperties: false"},
		{"extra members without a limit", withSchema("{type: object, additionalProperties: {type: boolean}}"), s + "additionalProperties with a schema needs maxProperties of at most 256"},
		{"too many extra members", withSchema("{type: object, maxProperties: 257, additionalProperties: {type: boolean}}"), s + "additionalProperties with a schema needs maxProperties of at most 256"},
		{"required without a property", withSchema("{type: object, additionalProperties: false, required: [x]}"), s + "required member x is not among the properties"},
		{"too many members", withSchema(manyMembers), s + "65 members are more than the 64 supported"},
		{"array without items", withSchema("{type: array}"), s + "an array needs items"},

		{"unknown format of a string", withSchema("{type: string, format: email}"), s + "format email is not checked for string"},
		{"enum of numbers", withSchema("{type: string, enum: [a, 1]}"), s + "enum of 1, which is not a string, is not supported"},
		{"enum of an integer", withSchema("{type: integer, minimum: 0, maximum: 1, enum: [1]}"), s + "enum is not checked for integer"},
		{"enum with nullable", withSchema("{type: string, nullable: true, enum: [a]}"), s + "enum with nullable is not supported"},
		{"pattern of another dialect", withSchema("{type: string, pattern: 'a(?=b)'}"),
			s + "pattern a(?=b) is not supported: error parsing regexp: invalid or unsupported Perl syntax: `(?=`"},

		{"number without format", withSchema("{type: number}"), s + "a number needs format double: read as anything else it loses digits"},
		{"number of format float", withSchema("{type: number, format: float}"), s + "a number needs format double: read as anything else it loses digits"},
		{"no number between", withSchema("{type: number, format: double, minimum: 1, maximum: 1, exclusiveMaximum: true}"), s + "no number lies between minimum and maximum"},
		{"exclusive without a bound", withSchema("{type: number, format: double, exclusiveMinimum: true}"), s + "exclusiveMinimum without its bound is not checked"},
		{"exclusive as a number", withSchema("{type: number, format: double, exclusiveMaximum: 5}"), s + "exclusiveMaximum as a number belongs to OpenAPI 3.1 and is not checked"},
		{"integer without a bound", withSchema("{type: integer, minimum: 0}"), s + "an integer needs minimum and maximum"},
		{"integer of another format", withSchema("{type: integer, format: uint8, minimum: 0, maximum: 1}"), s + "format uint8 is not checked for integer"},
		{"integer beyond float64", withSchema("{type: integer, minimum: 0, maximum: 9007199254740992}"), s + "bounds beyond 9007199254740991 are not supported"},
		{"integer beyond its format", withSchema("{type: integer, format: int32, minimum: 0, maximum: 2147483648}"), s + "bounds beyond 2147483647 are not supported"},

		{"oneOf of strings", withSchema("{type: string, oneOf: [{$ref: '#/components/schemas/A'}]}"), s + "oneOf is supported for objects only"},
		{"oneOf with members", withSchema("{oneOf: [{$ref: '#/components/schemas/A'}], properties: {x: {type: boolean}}}"), s + "properties is not checked for oneOf"},
		{"oneOf with a scalar", withSchema("{oneOf: [{$ref: '#/components/schemas/A'}, {type: boolean}]}"), "#/components/schemas/S/oneOf/1: a branch has to be a closed object that is not nullable"},
		{"oneOf with a nullable branch", withSchema("{oneOf: [{$ref: '#/components/schemas/N'}]}"), "#/components/schemas/S/oneOf/0: a branch has to be a closed object that is not nullable"},
		{"oneOf in oneOf", withSchema("{oneOf: [{$ref: '#/components/schemas/A'}, {oneOf: [{$ref: '#/components/schemas/C'}]}]}"), "#/components/schemas/S/oneOf/1: a branch has to be a closed object that is not nullable"},
		{"oneOf alike", withSchema("{oneOf: [{$ref: '#/components/schemas/B'}, {$ref: '#/components/schemas/B'}]}"), s + "neither a discriminator nor a required member tells oneOf/0 from oneOf/1"},
		{"oneOf too many", withSchema("{oneOf: [" + strings.Repeat("{$ref: '#/components/schemas/A'}, ", 17) + "]}"), s + "17 branches are more than the 16 supported"},
		{"discriminator without mapping", withSchema("{oneOf: [{$ref: '#/components/schemas/A'}], discriminator: {propertyName: k}}"),
			s + "a discriminator needs a mapping\n" + s + "no discriminator value leads to the branch #/components/schemas/A"},
		{"discriminator to no branch", withSchema("{oneOf: [{$ref: '#/components/schemas/A'}], discriminator: {propertyName: k, mapping: {a: A, b: B}}}"),
			s + "discriminator maps b to #/components/schemas/B, which is no branch"},
		{"discriminator misses a branch", withSchema("{oneOf: [{$ref: '#/components/schemas/A'}, {$ref: '#/components/schemas/B'}], discriminator: {propertyName: k, mapping: {a: A}}}"),
			s + "no discriminator value leads to the branch #/components/schemas/B"},
		{"discriminator not required", withSchema("{oneOf: [{$ref: '#/components/schemas/C'}], discriminator: {propertyName: k, mapping: {c: C}}}"),
			"#/components/schemas/S/oneOf/0: a branch has to require the discriminator k as a string"},
		{"discriminator that is no string", withSchema("{oneOf: [{$ref: '#/components/schemas/A'}], discriminator: {propertyName: a, mapping: {a: A}}}"),
			"#/components/schemas/S/oneOf/0: a branch has to require the discriminator a as a string"},
		{"unchecked with members", withSchema("{type: object, x-unchecked: true, properties: {a: {type: boolean}}, additionalProperties: true}"), s + "an open object is not checked: it needs additionalProperties: false"},
		{"discriminator without oneOf", withSchema("{type: object, additionalProperties: false, discriminator: {propertyName: a}}"), s + "discriminator is not checked for object"},

		{"body of another media type", withBody("{text/plain: {schema: {type: string}}}"), body + "/content/text~1plain: only bodies of JSON, of JSON lines or of CSV are known"},
		{"body without a schema", withBody("{application/json: {}}"), body + "/content/application~1json: a body without a schema is not checked"},
		{"body without content", withBody("{}"), body + ": a body without content is not checked"},
		{"several", withBody("{application/json: {schema: {type: array, items: {type: number}}}, application/b+json: {schema: {type: integer}}}"),
			body + "/content/application~1b+json/schema: an integer needs minimum and maximum\n" +
				body + "/content/application~1json/schema/items: a number needs format double: read as anything else it loses digits"},

		{"parameter with content", withParameter("{name: q, in: query, content: {application/json: {schema: {type: boolean}}}}"),
			parameter + ": a parameter without a schema is not checked\n" + parameter + ": content is not checked for a parameter"},
		{"parameter that may be empty", withParameter("{name: q, in: query, allowEmptyValue: true, schema: {type: boolean}}"), parameter + ": allowEmptyValue is not checked for a parameter"},
		{"cookie", withParameter("{name: q, in: cookie, schema: {type: boolean}}"), parameter + ": a parameter in cookie is not checked"},
		{"style", withParameter("{name: q, in: query, style: pipeDelimited, schema: {type: array, items: {type: boolean}}}"), parameter + ": style pipeDelimited is not supported, only form"},
		{"style of a path", withParameter("{name: p, in: path, required: true, style: label, schema: {type: boolean}}"), parameter + ": style label is not supported, only simple"},
		{"object", withParameter("{name: q, in: query, schema: {type: object, additionalProperties: false}}"), parameter + ": an object is not supported in a parameter"},
		{"nullable", withParameter("{name: q, in: query, schema: {type: string, nullable: true}}"), parameter + ": a parameter can't be nullable"},
		{"array in the path", withParameter("{name: p, in: path, required: true, schema: {type: array, items: {type: boolean}}}"), parameter + ": an array is supported in the query only"},
		{"array in a header", withParameter("{name: q, in: header, schema: {type: array, items: {type: boolean}}}"), parameter + ": an array is supported in the query only"},
		{"array of arrays", withParameter("{name: q, in: query, schema: {type: array, items: {type: array, items: {type: boolean}}}}"), parameter + ": the items of an array have to be scalars that are not nullable"},
		{"array of nullable", withParameter("{name: q, in: query, schema: {type: array, items: {type: string, nullable: true}}}"), parameter + ": the items of an array have to be scalars that are not nullable"},
		{"header that is ignored", withParameter("{name: content-type, in: header, schema: {type: string}}"), parameter + ": a header parameter named Content-Type is ignored by OpenAPI 3.0"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			err := compile(t, tt.document)
			if err == nil {
				t.Fatal("compiled")
			}
			if diff := cmp.Diff(tt.want, err.Error()); diff != "" {
				t.Errorf("error (-want +got):\n%s", diff)
			}
		})
	}
}

// TestCompileAccepts has what lies just inside of what is refused.
func TestCompileAccepts(t *testing.T) {
	t.Parallel()
	for name, document := range map[string]string{
		"nothing":                 head + "paths: {}\n",
		"no body":                 head + "paths: {/a: {get: {responses: {default: {description: d}}}}}\n",
		"texts":                   withSchema("{type: string, title: t, description: d, default: a, example: b, deprecated: true, writeOnly: true, x-go-type: T}"),
		"closed and empty object": withSchema("{type: object, additionalProperties: false}"),
		"extra members":           withSchema("{type: object, maxProperties: 256, additionalProperties: {type: boolean}}"),
		"one branch":              withSchema("{oneOf: [{$ref: '#/components/schemas/A'}]}"),
		"told apart one way":      withSchema("{oneOf: [{$ref: '#/components/schemas/A'}, {$ref: '#/components/schemas/B'}]}"),
		"recursion":               withSchema("{type: array, items: {$ref: '#/components/schemas/S'}}"),
		"media types":             withBody("{application/json: {schema: {type: boolean}}, application/x-ndjson: {schema: {type: boolean}}, application/senml+json: {schema: {type: boolean}}}"),
		"array in the query":      withParameter("{name: q, in: query, explode: false, schema: {type: array, items: {type: string, enum: [a]}}}"),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if err := compile(t, document); err != nil {
				t.Error(err)
			}
		})
	}
}

// TestCompileResponses makes sure that only requests are compiled: an answer may
// use what a request may not.
func TestCompileResponses(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile(keywordsDocument)
	if err != nil {
		t.Fatal(err)
	}
	document := strings.Replace(string(text), `{"200": {description: good}}`,
		`{"200": {description: good, content: {text/csv: {schema: {type: string}}, application/json: {schema: {type: object}}}}}`, 1)
	if document == string(text) {
		t.Fatal("nothing was replaced")
	}
	if err := compile(t, document); err != nil {
		t.Error(err)
	}
}
