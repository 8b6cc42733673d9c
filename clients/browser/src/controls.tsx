// Small parts of the page that several places use.
import { useEffect, useId, useState } from "preact/hooks";
import type { ComponentChildren } from "preact";
import { apiKey, ask } from "./api";
import { unit } from "./state";
import { readLength, showLength, writeLength, type Written } from "./units";
import { say } from "./words";

interface LengthProps { label: string; value: Written | undefined; onChange: (value: Written) => void; least?: number; hidden?: boolean; of?: string }

/** A field for a length: shows the maker's unit, takes any, says when it is none. */
export function LengthField({ label, value, onChange, least = -5000, hidden, of }: LengthProps) {
  const id = useId();
  const [typed, setTyped] = useState<string | null>(null);
  const mm = readLength(value ?? 0) ?? 0;
  const given = typed === null ? null : readLength(typed, unit.value);
  const wrong = typed !== null && (given === null || given < least);
  const take = (text: string) => {
    setTyped(text);
    const found = readLength(text, unit.value);
    if (found !== null && found >= least) onChange(writeLength(text, unit.value)!);
  };
  return (
    <span class="field">
      <label for={id} class={hidden ? "unseen" : undefined}>{label}</label>
      <input id={id} type="text" class="length" autocomplete="off" aria-label={of && `${label}, ${of}`} value={typed ?? showLength(mm, unit.value)}
        aria-invalid={wrong} aria-describedby={wrong ? `${id}-wrong` : undefined}
        onInput={(event) => take(event.currentTarget.value)} onBlur={() => setTyped(null)}
        onKeyDown={(event) => { if (event.key === "Enter") setTyped(null); }} />
      {wrong && <small id={`${id}-wrong`} class="wrong">{say.badLength}</small>}
    </span>
  );
}

interface ChoiceProps { label: string; value: string; choices: [string, string][]; onChange: (value: string) => void; hidden?: boolean }

export function Choice({ label, value, choices, onChange, hidden }: ChoiceProps) {
  const id = useId();
  return (
    <span class="field">
      <label for={id} class={hidden ? "unseen" : undefined}>{label}</label>
      <select id={id} value={value} onChange={(event) => onChange(event.currentTarget.value)}>
        {choices.map(([key, name]) => <option key={key} value={key} selected={key === value}>{name}</option>)}
      </select>
    </span>
  );
}

export function Tick({ label, value, onChange }: { label: string; value: boolean; onChange: (value: boolean) => void }) {
  return (
    <label class="tick">
      <input type="checkbox" checked={value} onChange={(event) => onChange(event.currentTarget.checked)} />
      <span>{label}</span>
    </label>
  );
}

/** Two or three choices side by side, as radio buttons. */
export function Either({ label, value, choices, onChange }: ChoiceProps) {
  const name = useId();
  return (
    <fieldset class="either">
      <legend class="unseen">{label}</legend>
      {choices.map(([key, words]) => (
        <label key={key}>
          <input type="radio" name={name} value={key} checked={key === value} onChange={() => onChange(key)} />
          <span>{words}</span>
        </label>
      ))}
    </fieldset>
  );
}

/** A picture of the service: as it is, or fetched with the key where there is one. */
export function Picture({ url, alt, cls }: { url: string; alt: string; cls?: string }) {
  const [own, setOwn] = useState<string | null>(null);
  const fetched = Boolean(apiKey.value) && !url.startsWith("blob:");
  useEffect(() => {
    if (!fetched) return undefined;
    let made = "";
    const stop = new AbortController();
    ask(url, { signal: stop.signal }).then((answer) => answer.blob()).then((blob) => {
      made = URL.createObjectURL(blob);
      setOwn(made);
    }).catch(() => undefined);
    return () => { stop.abort(); if (made) URL.revokeObjectURL(made); };
  }, [url, fetched]);
  const src = fetched ? own : url;
  return src ? <img src={src} alt={alt} class={cls} loading="lazy" /> : <span class={cls} />;
}

/** A picture of SVG text, shown as an image: nothing in it can run. */
export function Drawn({ svg, alt, cls }: { svg: string; alt: string; cls?: string }) {
  const [url, setUrl] = useState("");
  useEffect(() => {
    const made = URL.createObjectURL(new Blob([svg], { type: "image/svg+xml" }));
    setUrl(made);
    return () => URL.revokeObjectURL(made);
  }, [svg]);
  return url ? <img src={url} alt={alt} class={cls} /> : null;
}

export function Bar({ share, words }: { share: number | null; words: string }) {
  return (
    <p class="going" role="status">
      <progress max={1} value={share ?? undefined} aria-label={words} />
      <span>{words}</span>
    </p>
  );
}

export function Wrong({ children }: { children: ComponentChildren }) {
  return <p class="wrong" role="alert">{children}</p>;
}
