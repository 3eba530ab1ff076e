"use strict";

const part = (name) => document.getElementById(`try-${name}`);

function chosen(name) {
  return part(name).selectedOptions[0];
}

function showExample() {
  const example = chosen("example");
  part("body").value = example && !example.hidden ? example.dataset.body : "";
}

function showOperation() {
  const operation = chosen("operation").dataset;
  const examples = [...part("example").options];
  for (const option of examples) {
    option.hidden = option.disabled = option.dataset.path !== operation.path;
  }
  const first = examples.find((option) => !option.hidden);
  part("example").selectedIndex = first ? first.index : -1;
  part("example").disabled = part("body").disabled = !operation.contentType;
  part("accept").replaceChildren(
    ...JSON.parse(operation.accept).map((mediaType) => new Option(mediaType, mediaType)),
  );
  showExample();
}

async function send(event) {
  event.preventDefault();
  const { method, path, contentType } = chosen("operation").dataset;
  const headers = { Accept: part("accept").value };
  if (contentType) {
    headers["Content-Type"] = contentType;
  }
  if (part("key").value) {
    headers.Authorization = `Bearer ${part("key").value}`;
  }
  part("status").textContent = "Sending …";
  part("finding").textContent = "";
  part("answer").textContent = "";
  part("shown").hidden = part("saved").hidden = true;
  part("shown").removeAttribute("srcdoc");
  try {
    const answer = await fetch(path, { method, headers, body: contentType ? part("body").value : undefined });
    const kind = answer.headers.get("content-type") || "";
    if (kind.startsWith("application/pdf")) {
      const file = await answer.blob();
      URL.revokeObjectURL(part("file").href);
      part("file").href = URL.createObjectURL(file);
      part("saved").hidden = false;
      part("status").textContent = `${answer.status}, ${file.size} bytes, request ${answer.headers.get("request-id")}`;
      return;
    }
    const text = await answer.text();
    if (kind.startsWith("text/html") || kind.startsWith("image/svg+xml")) {
      // Without scripts and without this page's origin: the sandbox is empty.
      part("shown").srcdoc = kind.startsWith("image") ? `<!doctype html><title>Picture</title>${text}` : text;
      part("shown").hidden = false;
    }
    part("status").textContent = `${answer.status}, request ${answer.headers.get("request-id")}`;
    if (kind.includes("json") && !kind.includes("ndjson")) {
      const body = JSON.parse(text);
      part("answer").textContent = JSON.stringify(body, null, 2);
      if (body.finding) {
        part("finding").textContent = `${body.headline} ${body.next_action}`;
      }
    } else {
      part("answer").textContent = text;
    }
  } catch (error) {
    part("status").textContent = `Not sent: ${error.message}`;
  }
}

part("operation").addEventListener("change", showOperation);
part("example").addEventListener("change", showExample);
part("form").addEventListener("submit", send);
showOperation();
