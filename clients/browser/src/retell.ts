// What the service says (`letterply/said.py`), in another language: a template and its values in, a sentence out.

/** A text as the service tells what it was made of; null where it is the same in every language. */
export interface Told { text: string; values: { [name: string]: Value }; whole?: boolean }
type Value = string | number | boolean | null | Told | Value[];

/** The sentences of a language, by their English templates, and the names of what the catalogue has. */
export interface Sentences { sentences: { [template: string]: string }; names: { [name: string]: string } }

/** Return a text in a language, or null where the language has no words for all of it. */
export function retell(told: Told, language: Sentences, and: string): string | null {
  const own = (value: Value): string | null => {
    if (Array.isArray(value)) {
      const parts = value.map(own);
      if (parts.includes(null)) return null;
      return parts.length > 1 ? `${parts.slice(0, -1).join(", ")} ${and} ${parts.at(-1)}` : parts[0] ?? "";
    }
    return typeof value === "object" && value !== null ? retell(value, language, and) : String(value);
  };
  const names = Object.keys(told.values);
  // A name of a maker's own stays what it is, and so do texts that only stand one after the other.
  const bare = names.length === 0 || !/[\p{L}]/u.test(told.text.replace(/\{\w+\}/g, ""));
  const template = language.sentences[told.text] ?? language.names[told.text] ?? (bare ? told.text : null);
  if (template === null) return null;
  let known = true;
  const said = template.replace(/\{\{|\}\}|\{(\w+)\}/g, (found, name: string | undefined) => {
    if (name === undefined) return found[0]!;
    const value = own(told.values[name] ?? null);
    if (value === null) known = false;
    return value ?? "";
  });
  if (!known) return null;
  if (!told.whole) return said;
  const text = said.trim();
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}${/[.!?]$/.test(text) ? "" : "."}`;
}
