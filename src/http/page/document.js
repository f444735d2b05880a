// A JSON document as text with places: where each value stands, by its JSON pointer (RFC 6901), and merge patches
// (RFC 7396) applied to the text, so that what a person wrote stays as it was written wherever the patch does not reach.

const step = (name) => name.replaceAll("~", "~0").replaceAll("/", "~1");

/** The names of a pointer. */
export const names = (pointer) =>
  pointer.split("/").slice(1).map((name) => name.replaceAll("~1", "/").replaceAll("~0", "~"));

/** A pointer of names. */
export const pointerOf = (list) => list.map((name) => `/${step(name)}`).join("");

/**
 * Where values stand: pointer → { from, to, key, members, open }. `from` and `to` are of the value, `key` of the beginning of its
 * name; `members` are the names of an object. What follows a fault of syntax has no place.
 */
export function places(text) {
  const found = new Map();
  let at = 0;
  const blank = () => { while (at < text.length && " \t\r\n".includes(text[at])) at += 1; };
  const string = () => {
    const token = /"(?:[^"\\\u0000-\u001f]|\\.)*"/y;
    token.lastIndex = at;
    const match = token.exec(text);
    if (!match) throw new SyntaxError("a text that does not end");
    at += match[0].length;
    return JSON.parse(match[0]);
  };
  const comma = (end) => {
    blank();
    if (text[at] === end) return false;
    if (text[at] !== ",") throw new SyntaxError(`a comma or ${end}`);
    at += 1;
    blank();
    return true;
  };
  const value = (pointer, key, depth) => {
    blank();
    const place = { from: at, to: at, key: key ?? at, members: null };
    // The place of what contains a fault is known all the same.
    found.set(pointer, place);
    if (depth > 200) throw new SyntaxError("too deep");
    if (text[at] === "{") {
      at += 1;
      place.members = [];
      blank();
      if (text[at] !== "}") {
        do {
          const begin = at;
          const name = string();
          blank();
          if (text[at] !== ":") throw new SyntaxError("a colon");
          at += 1;
          place.members.push(name);
          value(`${pointer}/${step(name)}`, begin, depth + 1);
        } while (comma("}"));
      }
      at += 1;
    } else if (text[at] === "[") {
      at += 1;
      blank();
      let index = 0;
      if (text[at] !== "]") {
        do {
          value(`${pointer}/${index}`, null, depth + 1);
          index += 1;
        } while (comma("]"));
      }
      at += 1;
    } else if (text[at] === '"') {
      string();
    } else {
      const token = /[-+.\w]+/y;
      token.lastIndex = at;
      const match = token.exec(text);
      if (!match) throw new SyntaxError("a value");
      at += match[0].length;
    }
    place.to = at;
  };
  try {
    value("", null, 0);
  } catch (error) {
    if (!(error instanceof SyntaxError)) throw error;
    for (const place of found.values()) if (place.to === place.from) place.to = Math.max(place.from, at);
  }
  return found;
}

/** The place of a pointer, or of the nearest that contains it. */
export function nearest(found, pointer) {
  const list = names(pointer);
  for (let length = list.length; length >= 0; length -= 1) {
    const place = found.get(pointerOf(list.slice(0, length)));
    if (place) return place;
  }
  return { from: 0, to: 0, key: 0, members: null };
}

/** The number of the line, from 0, in which a place of the text lies. */
export function lineOf(text, at) {
  let line = 0;
  for (let next = text.indexOf("\n"); next >= 0 && next < at; next = text.indexOf("\n", next + 1)) line += 1;
  return line;
}

/** A value as JSON on one line, spaced as people write it. */
function print(value) {
  if (Array.isArray(value)) return `[${value.map(print).join(", ")}]`;
  if (value !== null && typeof value === "object") {
    const members = Object.entries(value).map(([name, member]) => `${JSON.stringify(name)}: ${print(member)}`);
    return members.length === 0 ? "{}" : `{ ${members.join(", ")} }`;
  }
  return JSON.stringify(value);
}

const isObject = (value) => value !== null && typeof value === "object" && !Array.isArray(value);

/** A patch without the nulls that would remove what is not there. */
function without(value) {
  if (!isObject(value)) return value;
  return Object.fromEntries(Object.entries(value).filter(([, member]) => member !== null).map(([name, member]) => [name, without(member)]));
}

const indentAt = (text, at) => /[ \t]*$/.exec(text.slice(0, at).replace(/[^\n]*$/, (line) => /^[ \t]*/.exec(line)[0]))[0];

function insert(text, found, pointer, name, value) {
  const place = found.get(pointer);
  const member = `${JSON.stringify(name)}: ${print(value)}`;
  if (place.members.length === 0) return `${text.slice(0, place.from)}{ ${member} }${text.slice(place.to)}`;
  const last = found.get(`${pointer}/${step(place.members.at(-1))}`);
  const first = found.get(`${pointer}/${step(place.members[0])}`);
  const spread = text.slice(place.from, first.key).includes("\n");
  const gap = spread ? `,\n${indentAt(text, last.key)}` : ", ";
  return text.slice(0, last.to) + gap + member + text.slice(last.to);
}

function remove(text, found, pointer, name) {
  const place = found.get(pointer);
  const index = place.members.indexOf(name);
  const of = (one) => found.get(`${pointer}/${step(one)}`);
  const gone = of(name);
  if (place.members.length === 1) return `${text.slice(0, place.from)}{}${text.slice(place.to)}`;
  if (index === 0) return text.slice(0, gone.key) + text.slice(of(place.members[1]).key);
  return text.slice(0, of(place.members[index - 1]).to) + text.slice(gone.to);
}

function merge(text, pointer, patch) {
  for (const [name, value] of Object.entries(patch)) {
    const inner = `${pointer}/${step(name)}`;
    // Each edit moves what follows it, so places are read again; documents are small and patches short.
    const found = places(text);
    const there = found.get(inner);
    if (value === null) {
      if (there) text = remove(text, found, pointer, name);
    } else if (there && isObject(value) && there.members) {
      text = merge(text, inner, value);
    } else if (there) {
      text = text.slice(0, there.from) + print(without(value)) + text.slice(there.to);
    } else {
      text = insert(text, found, pointer, name, without(value));
    }
  }
  return text;
}

/** A merge patch applied to the text of a document. Throws where the text is not JSON. */
export function patched(text, patch) {
  JSON.parse(text);
  if (!isObject(patch)) return print(patch);
  return places(text).get("").members ? merge(text, "", patch) : print(without(patch));
}
