// A list of names: pasted text or a table -> rows. What is wrong with them, the service says.
import { rows, type Row } from "./state";

const COLUMNS: (keyof Row)[] = ["text", "quantity", "size", "font", "reference"];

export const emptyRow = (text = ""): Row => ({ text, quantity: "", size: "", font: "", reference: "" });

/** Split a table into cells: RFC 4180, with whatever divides its first line. */
export function cells(table: string): string[][] {
  const source = table.replace(/^\ufeff/, "");
  const first = source.split(/\r?\n/, 1)[0] ?? "";
  const divider = ["\t", ";", ","].find((sign) => first.includes(sign)) ?? ",";
  const found: string[][] = [];
  let row: string[] = [], cell = "", quoted = false;
  for (let i = 0; i < source.length; i += 1) {
    const sign = source[i]!;
    if (quoted) {
      if (sign !== '"') cell += sign;
      else if (source[i + 1] === '"') { cell += '"'; i += 1; } else quoted = false;
    } else if (sign === '"' && cell === "") quoted = true;
    else if (sign === divider) { row.push(cell); cell = ""; }
    else if (sign === "\n" || sign === "\r") {
      if (sign === "\r" && source[i + 1] === "\n") i += 1;
      found.push([...row, cell]);
      row = []; cell = "";
    } else cell += sign;
  }
  if (cell || row.length) found.push([...row, cell]);
  return found.filter((one) => one.some((value) => value.trim()));
}

/** Read a list: with a heading that names columns, or one name on each line. */
export function readList(list: string): Row[] {
  const table = cells(list);
  const heading = (table[0] ?? []).map((name) => name.trim().toLowerCase());
  if (!heading.includes("text")) {
    return list.replace(/^\ufeff/, "").split(/\r\n|\r|\n/).filter((line) => line.trim()).map((line) => emptyRow(line.trim()));
  }
  return table.slice(1).map((line) => {
    const row = emptyRow();
    for (const name of COLUMNS) {
      const place = heading.indexOf(name);
      if (place >= 0) row[name] = (line[place] ?? "").trim();
    }
    return row;
  });
}

export function takeList(list: string): void {
  rows.value = [...rows.value.filter((row) => row.text.trim()), ...readList(list)];
}

/** The lines as the service takes them: what is empty is left out. */
export function linesOf(list: Row[]): Record<string, string>[] {
  return list.map((row) => Object.fromEntries(COLUMNS.filter((name) => name === "text" || row[name].trim()).map((name) => [name, row[name]])));
}
