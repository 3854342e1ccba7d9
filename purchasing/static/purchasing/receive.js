// The dock's form made quicker: running weights, cautions while typing, labels read in place.
// Everything here can be done without it.
"use strict";
(() => {
  const number = (text) => Number(String(text).replace(",", "."));

  function weights(box) {
    const list = box.querySelector("input[name$='-weights']"), scale = box.querySelector("[data-scale]");
    const cases = number(box.closest("[data-cases]").dataset.cases), running = box.querySelector(".running");
    const parts = () => list.value.trim().split(/[\s;]+/).filter(Boolean);
    function say() {
      const done = parts(), sum = done.reduce((total, one) => total + number(one), 0);
      running.textContent = done.length === 0 ? "" : box.dataset.says.replace("DONE", done.length).replace("ALL", cases)
        .replace("SUM", Number.isNaN(sum) ? "?" : String(Number(sum.toFixed(3)))).replace("UNIT", box.dataset.unit)
        .replace("LEFT", Math.max(0, cases - done.length));
    }
    function set(values) {
      list.value = values.join(" ");
      list.dispatchEvent(new Event("input", { bubbles: true }));
    }
    function add() {
      if (!scale.value.trim() || Number.isNaN(number(scale.value))) return;
      set([...parts(), scale.value.trim().replace(",", ".")]);
      scale.value = "";
      scale.focus();
    }
    box.querySelector(".scale").hidden = false;
    box.querySelector("[data-add]").addEventListener("click", add);
    box.querySelector("[data-undo]").addEventListener("click", () => { set(parts().slice(0, -1)); scale.focus(); });
    scale.addEventListener("keydown", (event) => {
      if (event.key === "Enter") { event.preventDefault(); add(); }
    });
    list.addEventListener("input", say);
    list.form.addEventListener("filled", say);
    say();
  }

  function caution(input) {
    const warm = input.parentElement.querySelector(".warm"), unit = input.form.elements.temp_unit;
    function look() {
      const limit = number(unit.value === "C" ? input.dataset.limitC : input.dataset.limitF);
      warm.hidden = !(input.value.trim() && number(input.value) > limit);
    }
    input.addEventListener("input", look);
    unit.addEventListener("change", look);
    input.form.addEventListener("filled", look);
    look();
  }

  function looked(form) {
    const says = document.getElementById("looked");
    function count() {
      const lines = [...form.querySelectorAll(".dock")];
      const done = lines.filter((line) => line.querySelector(".how :checked")).length;
      says.textContent = says.dataset.of.replace("DONE", done).replace("ALL", lines.length);
    }
    form.addEventListener("change", count);
    form.addEventListener("filled", count);
    count();
  }

  function labels(form) {
    const scan = form.elements.scan, chosen = form.elements.scan_for, says = document.getElementById("read-says");
    const photo = form.elements.label_photo, button = document.getElementById("read");
    async function read() {
      const body = new FormData();
      for (const name of ["csrfmiddlewaretoken", "scan", "scan_for"]) body.append(name, form.elements[name].value);
      if (!scan.value.trim() && photo.files.length) body.append("label_photo", photo.files[0]);
      let answer;
      try {
        answer = await fetch(button.formAction, { method: "POST", body, headers: { Accept: "application/json" } });
      } catch { keepUnread(); return; }
      if (answer.status !== 200 && answer.status !== 422) { keepUnread(); return; }
      apply(await answer.json());
      photo.value = "";
    }
    function apply(label) {
      says.textContent = [label.says, ...label.problems.map((one) => one.message)].filter(Boolean).join(" ");
      if (label.line === null) return;
      const input = (name) => form.elements[`l${label.line}-${name}`];
      for (const [name, value] of Object.entries(label.fill)) {
        if (name !== "lot" || !input("lot").value) input(name).value = value;
      }
      input("read").value = [input("read").value, ...label.texts].filter(Boolean).join("\n");
      if (label.weight) input("weights").value = `${input("weights").value} ${label.weight}`.trim();
      done(label.line);
    }
    function keepUnread() {
      const text = scan.value.trim();
      const gtin = (text.replace(/^\][A-Za-z]\d/, "").match(/^\(?0[12]\)?(\d{14})/) || [])[1];
      const line = chosen.value ? document.getElementById(`line-${chosen.value}`)
        : gtin && form.querySelector(`[data-gtin="${gtin}"]`);
      if (!text || !line) { says.textContent = says.dataset.choose; return; }
      const unread = form.elements[`l${line.dataset.line}-scan`];
      unread.value = [unread.value, text].filter(Boolean).join("\n");
      says.textContent = says.dataset.kept;
      done(line.dataset.line);
    }
    function done(line) {
      scan.value = "";
      form.dispatchEvent(new Event("input"));
      form.dispatchEvent(new CustomEvent("filled"));
      for (const part of document.querySelectorAll(`#line-${line} .more`)) part.open = true;
      document.getElementById(`line-${line}`).scrollIntoView({ block: "nearest" });
      scan.focus({ preventScroll: true });
    }
    button.addEventListener("click", (event) => { event.preventDefault(); read(); });
    photo.addEventListener("change", () => { if (photo.files.length) read(); });
  }

  document.addEventListener("dock-ready", init);
  function init() {
    const form = document.getElementById("delivery");
    if (!form || form.dataset.ready) return;
    form.dataset.ready = "yes";
    form.querySelectorAll("[data-weights]").forEach(weights);
    form.querySelectorAll("[data-limit-f]").forEach(caution);
    looked(form);
    labels(form);
  }
  init();
})();
