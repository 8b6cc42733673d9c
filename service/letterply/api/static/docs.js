// Lists the operations of the service from its own description and tries them out.
"use strict";

const $ = (id) => document.getElementById(id);

function make(tag, text, attributes = {}) {
  const node = document.createElement(tag);
  if (text) node.textContent = text;
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  return node;
}

function resolve(description, schema) {
  if (schema && schema.$ref) {
    return schema.$ref.split("/").slice(1).reduce((at, key) => at[key], description);
  }
  return schema || {};
}

function members(description, schema) {
  const found = resolve(description, schema);
  const table = make("table");
  for (const [name, member] of Object.entries(found.properties || {})) {
    const kind = resolve(description, member);
    const row = make("tr");
    row.append(make("td", name + ((found.required || []).includes(name) ? " *" : "")));
    row.append(make("td", kind.type || (kind.anyOf || []).map((a) => a.type || "object").join(" or ")));
    row.append(make("td", member.description || kind.description || ""));
    table.append(row);
  }
  return table;
}

function example(content) {
  const examples = Object.values((content && content.examples) || {});
  return examples.length ? JSON.stringify(examples[0].value, null, 2) : "{}";
}

async function send(method, path, operation, fields, body, out) {
  const headers = {};
  const query = new URLSearchParams();
  let url = path;
  for (const [parameter, input] of fields) {
    if (!input.value) continue;
    if (parameter.in === "path") {
      const parts = parameter.name === "path" ? input.value.split("/") : [input.value];
      url = url.replace(`{${parameter.name}}`, parts.map(encodeURIComponent).join("/"));
    } else if (parameter.in === "query") query.set(parameter.name, input.value);
    else headers[parameter.name] = input.value;
  }
  if ($("key").value) headers.Authorization = `Bearer ${$("key").value}`;
  let payload;
  if (body && body.type === "file") {
    payload = new FormData();
    payload.append("file", body.files[0]);
  } else if (body) {
    headers["Content-Type"] = "application/json";
    payload = body.value;
  }
  out.replaceChildren(make("p", "…"));
  try {
    const answer = await fetch(url + (query.size ? `?${query}` : ""), { method, headers, body: payload });
    const type = answer.headers.get("Content-Type") || "";
    out.replaceChildren(make("p", `${answer.status} ${answer.statusText} · ${type}`));
    if (type.startsWith("image/png") || type.startsWith("image/svg")) {
      out.append(make("img", "", { src: URL.createObjectURL(await answer.blob()), alt: "the answer" }));
    } else if (type.includes("json")) {
      out.append(make("pre", JSON.stringify(await answer.json(), null, 2)));
    } else if (type.startsWith("text/")) {
      out.append(make("pre", (await answer.text()).slice(0, 20000)));
    } else {
      out.append(make("p", `${(await answer.blob()).size} bytes`));
    }
  } catch (error) {
    out.replaceChildren(make("p", `The service did not answer: ${error.message}`));
  }
}

function show(description, path, method, operation) {
  const box = make("details");
  const head = make("summary");
  head.append(make("span", method.toUpperCase(), { class: "method" }), make("code", path));
  head.append(make("span", ` ${operation.summary || ""}`, { class: "hint" }));
  box.append(head, make("p", operation.description || ""));
  const form = make("form");
  const fields = [];
  for (const parameter of operation.parameters || []) {
    const label = make("label", `${parameter.name} (${parameter.in})${parameter.required ? " *" : ""} `);
    const input = make("input", "");
    label.append(input, make("span", ` ${parameter.description || ""}`, { class: "hint" }));
    form.append(label);
    fields.push([parameter, input]);
  }
  let body = null;
  const contents = (operation.requestBody || {}).content;
  if (contents && contents["application/json"]) {
    form.append(members(description, contents["application/json"].schema));
    body = make("textarea", "", { spellcheck: "false", "aria-label": "body" });
    body.value = example(contents["application/json"]);
    form.append(body);
  } else if (contents) {
    body = make("input", "", { type: "file", "aria-label": "file" });
    form.append(body);
  }
  const out = make("div");
  form.append(make("button", "Send"));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    send(method.toUpperCase(), path, operation, fields, body, out);
  });
  const answers = make("table");
  for (const [status, answer] of Object.entries(operation.responses || {})) {
    const row = make("tr");
    row.append(make("td", status), make("td", answer.description || ""));
    answers.append(row);
  }
  box.append(form, out, make("p", "Answers:"), answers);
  return box;
}

async function start() {
  const description = await (await fetch("/openapi.json")).json();
  for (const paragraph of description.info.description.split("\n\n")) {
    $("about").append(make("p", paragraph.replaceAll("**", "").replaceAll("`", "")));
  }
  const groups = new Map();
  for (const [path, methods] of Object.entries(description.paths)) {
    for (const [method, operation] of Object.entries(methods)) {
      const tag = (operation.tags || ["other"])[0];
      if (!groups.has(tag)) groups.set(tag, []);
      groups.get(tag).push(show(description, path, method, operation));
    }
  }
  $("operations").replaceChildren();
  for (const [tag, boxes] of groups) $("operations").append(make("h2", tag), ...boxes);
}

start().catch((error) => $("operations").replaceChildren(make("p", error.message)));
