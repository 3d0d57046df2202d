// The page's own small script: it unpacks the numbers within the page when the reader asks for
// them, and mounts the live chart. What only a notebook can answer is left out of it.
{
  const KEPT = ["Crop", "Read a date", "Days it needs", "Sown on"];
  const details = document.getElementById("live");

  async function unpacked(text) {
    const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    const plain = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
    return new Response(plain).json();
  }

  async function open() {
    const given = await unpacked(document.getElementById("live-numbers").textContent);
    const root = document.getElementById("live-chart");
    const found = new Map(given.plans.map((plans) => [JSON.stringify(plans.of), plans]));
    const behind = (state) => {
      const { years, crop, limits, ways } = state;
      return { plans: found.get(JSON.stringify({ years, crop, limits, ways })) };
    };
    const parts = ["window", "plans"];
    const { numbers, state: first } = given;
    const view = mount(root, { numbers, state: first, behind: behind(first), parts }, (state) => {
      const own = { ...state, limits: {} }; // the plans are judged by the crop's own limits
      view.give({ state: own, behind: behind(own) });
    });
    const beyond = [...root.querySelectorAll(".dial, .choice")].filter(
      (control) => !KEPT.includes(control.querySelector("label").textContent)
    );
    const back = [...root.querySelectorAll(".controls > button")]; // to limits that do not move here
    [...beyond, ...back, root.querySelector(".years")].forEach((control) => control.remove());
  }

  if (details && "DecompressionStream" in window) {
    details.hidden = false;
    details.addEventListener("toggle", open, { once: true });
  }
}
