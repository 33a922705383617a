"use strict";
(() => {
  const at = id => document.getElementById(id);
  const refuse = () => { at("old").textContent = at("old").dataset.old; };
  const list = (node, texts) => node.replaceChildren(...texts.map(text => {
    const item = document.createElement("li");
    item.textContent = text;
    return item;
  }));

  // the chart stays where it is while findings of one line and of three come and go
  const keepRoom = page => {
    const findings = [...new Set(page.states.map(state => page.words[state[2]]))];
    const longest = findings.sort((one, other) => other.length - one.length).slice(0, 5);
    at("find").style.minHeight = 0;
    const heights = longest.map(text => {
      at("find").textContent = text;
      return at("find").offsetHeight;
    });
    at("find").style.minHeight = `${Math.max(...heights)}px`;
  };

  const start = page => {
    const sliders = page.controls.map((_, k) => at(`control${k}`));
    const words = numbers => numbers.map(number => page.words[number]);
    let still = -1;

    const draw = state => {
      if (state[0] !== still) {
        still = state[0];
        at("chart").innerHTML = page.stills[still].replace(/<\/svg>\s*$/, '<g id="moving"></g></svg>');
      }
      at("moving").innerHTML = page.movings[state[1]];
    };

    const row = cells => {
      const line = document.createElement("tr");
      line.replaceChildren(...words(cells).map((text, k) => {
        const cell = document.createElement(k ? "td" : "th");
        if (!k) cell.scope = "row";
        cell.textContent = text;
        return cell;
      }));
      return line;
    };

    const show = () => {
      let number = 0;
      sliders.forEach((slider, k) => {
        const labels = page.controls[k];
        const label = labels[Number(slider.value)];
        number = number * labels.length + Number(slider.value);
        slider.setAttribute("aria-valuetext", label);
        at(`value${k}`).textContent = label;
      });
      const state = page.states[number];
      draw(state);
      ["find", "title", "verdict"].forEach((id, k) => { at(id).textContent = page.words[state[2 + k]]; });
      at("rows").replaceChildren(...state[5].map(row));
      list(at("assumed"), words(state[6]));
      list(at("cautions"), words(state[7]));
      document.body.dataset.state = number;
    };

    sliders.forEach((slider, k) => {
      slider.addEventListener("input", show);
      for (const [id, step] of [[`less${k}`, -1], [`more${k}`, 1]]) {
        at(id).addEventListener("click", () => {
          slider.value = Number(slider.value) + step;
          show();
        });
      }
    });
    at("hatches").innerHTML = `<defs>${page.hatches.join("")}</defs>`;
    at("old").hidden = true;
    at("controls").hidden = false;
    keepRoom(page);
    addEventListener("resize", () => { keepRoom(page); show(); });
    show();
  };

  at("recipe").textContent = document.querySelector("meta[name=recipe]").content;
  if (!("DecompressionStream" in window)) { refuse(); return; }
  const bytes = Uint8Array.from(atob(at("states").textContent), letter => letter.charCodeAt(0));
  new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"))).json().then(start).catch(refuse);
})();
