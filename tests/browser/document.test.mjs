// The text of a document: places of values, and merge patches that leave the rest as it was written.

import assert from "node:assert/strict";
import { test } from "node:test";

import { lineOf, nearest, patched, places } from "../../src/http/page/document.js";

test("each value has its place", () => {
  const text = '{ "a/b": [1, { "c~": "x\\"y" }],\n  "": -2.5e3 }';
  const found = places(text);
  const at = (pointer) => text.slice(found.get(pointer).from, found.get(pointer).to);
  assert.equal(at(""), text);
  assert.equal(at("/a~1b/0"), "1");
  assert.equal(at("/a~1b/1/c~0"), '"x\\"y"');
  assert.equal(at("/"), "-2.5e3");
  assert.equal(text.slice(found.get("/").key, found.get("/").from), '"": ');
  assert.equal(lineOf(text, found.get("/").key), 1);
});

test("the place of what is not there is that of what would contain it", () => {
  const text = '{ "units": { "burner": {} } }';
  const place = nearest(places(text), "/units/burner/gives/exhaust");
  assert.equal(text.slice(place.key, place.to), '"burner": {}');
});

test("broken text has places as far as it can be read", () => {
  for (const text of ["", "{", '{ "a": ', '{ "a": 1, "b" }', '{ "a": [1, }', '{ "a": "x', "[[[[", "{]"]) {
    assert.ok(places(text).has(""), text);
  }
  assert.equal(places('{ "a": 1, "b" }').get("/a").to, 8);
  assert.ok(places("[".repeat(100_000)).size < 300);
});

/** RFC 7396, section 2, on values. */
function merge(target, patch) {
  if (patch === null || typeof patch !== "object" || Array.isArray(patch)) return patch;
  const result = target !== null && typeof target === "object" && !Array.isArray(target) ? { ...target } : {};
  for (const [name, value] of Object.entries(patch)) {
    if (value === null) delete result[name];
    else result[name] = merge(result[name], value);
  }
  return result;
}

test("a patch of the text is the patch of its value", () => {
  // The cases of RFC 7396, appendix A, and those of spacing.
  const cases = [
    ['{"a":"b"}', { a: "c" }], ['{"a":"b"}', { b: "c" }], ['{"a":"b"}', { a: null }], ['{"a":"b","b":"c"}', { a: null }],
    ['{"a":["b"]}', { a: "c" }], ['{"a":"c"}', { a: ["b"] }], ['{"a":{"b":"c"}}', { a: { b: "d", c: null } }],
    ['{"a":[{"b":"c"}]}', { a: [1] }], ['["a","b"]', ["c", "d"]], ['{"a":"b"}', ["c"]], ['{"a":"foo"}', "bar"],
    ['{"e":null}', { a: 1 }], ["[1,2]", { a: "b", c: null }], ["{}", { a: { bb: { ccc: null } } }],
    ['{\n  "a": 1,\n  "b": { "c": 2 }\n}\n', { b: { d: { e: null, f: 3 } }, g: {} }],
    ['{\n  "a": 1,\n  "b": 2,\n  "c": 3\n}', { b: null, c: null }], ['{ "x": { "y": 1 } }', { x: { y: null } }],
  ];
  for (const [text, patch] of cases) {
    assert.deepEqual(JSON.parse(patched(text, patch)), merge(JSON.parse(text), patch), `${text} ${JSON.stringify(patch)}`);
  }
});

test("what a patch does not reach stays as it was written", () => {
  const text = '{\n  "supplies": {\n    "seep": { "rate": "88 g/s",   "rank": 1 }\n  },\n  "aim": {}\n}\n';
  assert.equal(patched(text, { supplies: { seep: { rate: 0.0955 } } }), text.replace('"88 g/s"', "0.0955"));
  assert.equal(patched(text, { supplies: { tank: { rate: 1 } } }),
    text.replace('"rank": 1 }', '"rank": 1 },\n    "tank": { "rate": 1 }'));
  assert.equal(patched(text, { supplies: { seep: { rank: null } } }), text.replace(',   "rank": 1', ""));
  assert.throws(() => patched("{ broken", { a: 1 }), SyntaxError);
});
