// What script adds: a change is answered after 0.4 s of quiet, without loading the page anew. Everything works without it.
(() => {
  "use strict";
  const form = document.querySelector("form[data-compute]");
  const faults = document.getElementById("faults");
  if (faults) faults.focus();
  const say = (text) => {
    const live = document.getElementById("live");
    if (live) live.textContent = text;
  };
  if (!form) return;
  const QUIET = 400;
  const AGAIN = 500;
  let timer = 0;
  let asked = null;

  const address = () => {
    const fields = new URLSearchParams();
    for (const [name, value] of new FormData(form)) if (value !== "") fields.append(name, value);
    return form.getAttribute("action").split("#")[0] + "?" + fields;
  };

  const swap = (page, id) => {
    const fresh = page.getElementById(id);
    const old = document.getElementById(id);
    if (fresh && old) old.replaceWith(document.adoptNode(fresh));
    return document.getElementById(id);
  };

  // Faults go to their fields and to the top; what was typed stays.
  const show = (page) => {
    document.getElementById("faults")?.remove();
    for (const old of form.querySelectorAll(".fault")) old.remove();
    for (const field of form.elements) {
      field.removeAttribute("aria-invalid");
      const fresh = field.id && page.getElementById(field.id);
      if (fresh && fresh.getAttribute("aria-invalid")) {
        field.setAttribute("aria-invalid", "true");
        field.setAttribute("aria-describedby", field.id + "-fault");
        const fault = page.getElementById(field.id + "-fault");
        if (fault) field.closest(".field").append(document.adoptNode(fault));
      }
    }
    const summary = page.getElementById("faults");
    const answer = swap(page, "answer");
    if (summary) {
      document.querySelector(".two").before(document.adoptNode(summary));
      say(summary.textContent);
      return;
    }
    const told = answer?.querySelector("[data-live]") || answer?.querySelector(".headline") || answer;
    if (told) say(told.textContent.replace(/\s+/g, " ").trim());
  };

  const ask = async (url) => {
    asked?.abort();
    asked = new AbortController();
    const { signal } = asked;
    try {
      const response = await fetch(url, { signal, headers: { accept: "text/html" } });
      if (response.redirected) return void location.assign(response.url);
      const page = new DOMParser().parseFromString(await response.text(), "text/html");
      if (signal.aborted) return;
      history.replaceState(null, "", url + location.hash);
      if (page.getElementById("computing")) {
        swap(page, "answer");
        timer = setTimeout(() => ask(url), AGAIN);
      } else show(page);
    } catch (error) {
      if (error.name !== "AbortError") {
        const at = new Date().toLocaleTimeString(document.documentElement.lang, { hour: "numeric", minute: "2-digit" });
        say(form.dataset.offline.replace("{time}", at));
        const box = document.getElementById("offline");
        if (box) { box.hidden = false; box.textContent = form.dataset.offline.replace("{time}", at); }
      }
    }
  };

  const changed = (wait) => {
    clearTimeout(timer);
    timer = setTimeout(() => ask(address()), wait);
  };
  form.addEventListener("input", () => changed(QUIET));
  // Another place of the shelf or shelter fills other fields, and so does a further place: those load the page.
  form.addEventListener("change", (event) => {
    if (/^(spot\.|shelter$)/.test(event.target.name)) {
      clearTimeout(timer);
      form.submit();
    }
    if (event.target.tagName === "SELECT") event.target.classList.toggle("unknown", event.target.selectedOptions[0]?.classList.contains("unknown"));
  });
  if (document.getElementById("computing")) timer = setTimeout(() => ask(location.pathname + location.search), AGAIN);
})();
