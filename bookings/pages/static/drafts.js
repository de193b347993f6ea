// A form marked `data-drafts` saves itself: on leaving a field, and 20 seconds after something was
// typed. It is sent as its own button would send it; the answer holds what has changed on the page.
const form = document.querySelector("form[data-drafts]");
const saved = form && document.getElementById("saved");
let timer = 0, isTyped = false, isOver = false, sending = null;

async function save() {
  // One after the other: each names the draft it has read.
  if (sending) return void sending.then(save);
  clearTimeout(timer);
  timer = 0;
  if (!isTyped || isOver) return;
  isTyped = false;
  sending = send();
  await sending;
  sending = null;
}

async function send() {
  const sent = new URLSearchParams(new FormData(form));
  sent.set("then", "auto");
  try {
    const answer = await fetch(form.action, { method: "POST", body: sent, redirect: "manual" });
    if (answer.type === "opaqueredirect" || answer.status === 403) return stop();
    show(new DOMParser().parseFromString(await answer.text(), "text/html"), sent);
  } catch {
    isTyped = true;
    saved.textContent = "Not saved: there is no connection. It is tried again in 20 seconds.";
    timer = setTimeout(save, 20000);
  }
}

function show(page, sent) {
  const told = page.getElementById("saved");
  saved.textContent = told ? told.textContent : "Not saved. Press the button below.";
  const read = page.getElementById("read");
  if (read && !told.textContent.startsWith("Not")) {
    document.getElementById("read").value = read.value;
  }
  const dates = page.getElementById("dates"), shown = document.getElementById("dates");
  const weeks = "follow_up_weeks", at = document.activeElement;
  if (!dates || !shown || shown.dataset.weeks === sent.get(weeks)) return;
  const name = shown.contains(at) ? at.name : "";
  shown.replaceWith(dates);
  dates.dataset.weeks = sent.get(weeks);
  if (name) dates.querySelector(`[name="${name}"]`).focus();
}

// The server has kept what was sent, and fills it in again after signing in.
function stop() {
  isOver = true;
  const link = document.createElement("a");
  link.href = `/accounts/login/?next=${encodeURIComponent(location.pathname + location.search)}`;
  link.textContent = "Sign in again";
  saved.replaceChildren(
    "You are signed out, so this page no longer saves itself. ",
    link,
    " within 30 minutes: what you typed is kept until then.",
  );
}

if (form) {
  const dates = document.getElementById("dates");
  if (dates) dates.dataset.weeks = new FormData(form).get("follow_up_weeks");
  form.addEventListener("input", () => {
    isTyped = true;
    timer ||= setTimeout(save, 20000);
  });
  form.addEventListener("change", save);
  form.addEventListener("submit", (event) => {
    isOver = true;
    if (!sending) return;
    event.preventDefault();
    sending.then(() => setTimeout(() => form.requestSubmit(event.submitter)));
  });
}
