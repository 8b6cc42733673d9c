// Files to take along: each fetched with the key, one that the proof refused called what it is.
import { signal, useSignal } from "@preact/signals";
import { useId } from "preact/hooks";
import { save } from "./api";
import { Tick } from "./controls";
import { say } from "./words";
import type { FileLink, Result } from "./shapes";

/** Whether somebody takes programs that are not proved. */
export const unprovedTaken = signal(false);

const TAKEN = [/^programs\//, /^sheets\/.*\.(svg|dxf)$/, /^layers\/.*\.(svg|dxf)$/, /^stack\.png$/, /^piece\.(svg|dxf)$/, /\.pdf$/];

/** Where a file of a plan is, held back or not. */
export const addressOf = (file: FileLink) => (file.held_back ? `${file.url}?override=accept-unproved` : file.url);

export function Files({ kept }: { kept: Result }) {
  const held = kept.files.some((file) => file.held_back);
  const listed = TAKEN.flatMap((form) => kept.files.filter((file) => form.test(file.path)));
  return (
    <>
      <h3>{say.take}</h3>
      {held && <Tick label={say.acceptUnproved} value={unprovedTaken.value} onChange={(taken) => { unprovedTaken.value = taken; }} />}
      <ul class="files">
        <li><FileLine url={kept.links.zip} name={`${kept.title}.zip`} words={say.allFiles} held={held && unprovedTaken.value} /></li>
        {listed.map((file) => (
          <li key={file.path}>
            {file.held_back && !unprovedTaken.value
              ? <span class="quiet">{file.path} ({say.unprovedMark})</span>
              : <FileLine url={file.url} name={file.path.replaceAll("/", "-")} words={file.path} held={file.held_back} />}
          </li>
        ))}
      </ul>
    </>
  );
}

/** A file to take; one that the proof refused says so in its name too. */
export function FileLine({ url, name, words, held }: { url: string; name: string; words: string; held: boolean }) {
  const wrong = useSignal("");
  const id = useId();
  const full = held ? `${url}?override=accept-unproved` : url;
  const called = held ? `unproved-${name}` : name;
  const take = () => { save(full, called).catch((error: unknown) => { wrong.value = String(error); }); };
  return (
    <>
      <button type="button" class="link" aria-describedby={wrong.value ? id : undefined} onClick={take}>{words}{held && ` (${say.unprovedMark})`}</button>
      {wrong.value && <span id={id} class="wrong">{wrong.value}</span>}
    </>
  );
}
