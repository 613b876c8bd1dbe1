#include "styles.hpp"

namespace hb::sheet {
const std::string_view kCommonCss =
    R"css(:root{--ink:#1b2830;--soft:#4c5a63;--rule:#c9cfc9;--sand:#f5f2ea;--petrol:#0d565e;
--pass:#0d565e;--pass-t:#e8f1ef;--marginal:#7d5200;--marginal-t:#faf0d7;--fail:#9c2a1f;--fail-t:#f9e7e3;
--untested:#4d5963;--untested-t:#ebeef0;--waived:#5d3f6b;--waived-t:#f0eaf3;color-scheme:light}
*{box-sizing:border-box}
html{background:var(--sand);-webkit-text-size-adjust:100%}
body{margin:0;color:var(--ink);font:16px/1.45 "Liberation Sans","Helvetica Neue",Arial,"DejaVu Sans","Noto Sans Arabic",sans-serif;
overflow-wrap:anywhere;-webkit-print-color-adjust:exact;print-color-adjust:exact}
h1,h2,h3,p,dl,dd,ul,figure{margin:0;padding:0}
h2{font-size:1.06rem;color:var(--petrol);margin:0 0 .4rem}
table{border-collapse:collapse;width:100%}
th,td{text-align:start;vertical-align:top;padding:.5rem .6rem}
thead th{font-size:.82rem;font-weight:400;color:var(--soft);border-bottom:1.5px solid var(--ink);padding-top:0}
tbody tr{border-bottom:1px solid var(--rule)}
.badge{display:inline-flex;gap:.45em;align-items:center;font-weight:700;white-space:nowrap}
.mark{width:1.15em;height:1.15em;flex:none}
.pass{color:var(--pass)}.marginal{color:var(--marginal)}.fail{color:var(--fail)}.untested{color:var(--untested)}.waived{color:var(--waived)}
tr.is-marginal{background:var(--marginal-t)}tr.is-fail{background:var(--fail-t)}tr.is-untested{background:var(--untested-t)}
tr.is-waived{background:var(--waived-t)}
.demo{border:1.5px dashed var(--ink);background:var(--sand);border-radius:6px;padding:.5rem 1rem;font-weight:700;text-align:center;margin:.9rem 0 0}
.withdrawn{border:3px solid var(--fail);background:var(--fail-t);color:var(--fail);border-radius:6px;padding:.7rem 1rem;font-weight:700;font-size:1.6rem;line-height:1.25;text-align:center;margin:.9rem 0 0}
.note{margin:.4rem 0;font-weight:700}
figure svg{display:block;width:100%;height:auto}
figcaption{font-weight:700;color:var(--petrol);font-size:.92rem;margin-bottom:.3rem}
svg{direction:ltr}svg text{font-family:inherit}
@media screen{[dir=rtl] body{line-height:1.6}}[dir=rtl] code,[dir=rtl] .key b{direction:ltr;unicode-bidi:isolate}
)css";

const std::string_view kCustomerCss =
    R"css(main,header,footer{max-width:52rem;margin:0 auto;background:#fff;padding:0 2.2rem}
main,footer{display:flow-root}header{padding-top:1.8rem}footer{padding-bottom:2rem}
.shop{display:flex;justify-content:space-between;align-items:baseline;gap:1.5rem;border-bottom:2.5px solid var(--ink);padding-bottom:.45rem}
.shop strong{font-size:1.3rem}.shop span{color:var(--soft);text-align:end}
h1{font-size:1.75rem;line-height:1.2;margin:1.2rem 0 1rem}
.facts{display:grid;grid-template-columns:repeat(auto-fit,minmax(10.5rem,1fr));gap:.8rem 1.2rem}
.facts dt{color:var(--soft);font-size:.86rem}.facts dd{font-weight:700;font-size:1.08rem}
.facts dd small{display:block;font-weight:400;font-size:.84rem;color:var(--soft)}
.verdict{display:flex;gap:1rem;align-items:center;border:2px solid;border-radius:10px;padding:.9rem 1.1rem;margin:1.2rem 0 1.4rem}
.verdict .mark{width:2.9rem;height:2.9rem}
.verdict strong{display:block;font-size:1.42rem;line-height:1.25}.verdict p{color:var(--ink)}
.verdict.pass{background:var(--pass-t)}.verdict.marginal{background:var(--marginal-t)}.verdict.fail{background:var(--fail-t)}
.verdict.untested{background:var(--untested-t)}.verdict.waived{background:var(--waived-t)}
section{margin-top:1.5rem}
.says li{list-style:none;margin:.25rem 0}
.parts ul{columns:2;column-gap:2rem}.parts li{list-style:none;break-inside:avoid;margin-bottom:.2rem}
tbody th{width:26%}tbody td:nth-child(2){width:21%}
.pictures{display:grid;grid-template-columns:repeat(3,1fr);gap:1.1rem}
.two{display:grid;grid-template-columns:1fr 1fr;gap:0 2rem;border-top:1px solid var(--rule);padding-top:1.2rem}
.two section{margin-top:0}.two .proof{grid-column:1/3;margin-top:1.2rem}
.check{display:grid;grid-template-columns:1fr 9.6rem;gap:0 1.4rem;align-items:start}
.check h2{grid-column:1/3}.qr{width:100%;height:auto}
.key{margin:.4rem 0;color:var(--soft);font-size:.88rem}.key b{display:block;color:var(--ink);font-size:.95rem}
code{white-space:nowrap;font-family:"Liberation Mono","DejaVu Sans Mono",monospace;font-size:.93em}
.ask{border-top:1.5px solid var(--ink);margin-top:1.2rem;padding-top:.6rem;font-weight:700}
.self{border:1.5px solid var(--rule);border-radius:8px;padding:.8rem 1rem}.self p{margin:.35rem 0}.self p:empty{display:none}.self input{max-width:100%;font:inherit}.self label{display:block}.self input[type=text]{width:100%;padding:.3rem .5rem;border:1px solid var(--soft);border-radius:4px}
.self code{white-space:normal;overflow-wrap:anywhere}.limits{color:var(--soft);font-size:.88rem}
.says-authentic,.says-altered,.says-unchecked{padding:.5rem .8rem;border-radius:6px}
.says-authentic{color:var(--pass);background:var(--pass-t)}.says-altered{color:var(--fail);background:var(--fail-t)}.says-unchecked{color:var(--untested);background:var(--untested-t)}
@media (max-width:640px){main,header,footer{padding-left:1.1rem;padding-right:1.1rem}.shop{flex-direction:column;gap:.1rem}.shop span{text-align:start}
.pictures,.two{grid-template-columns:1fr}.two section{margin-top:1.2rem}.two .proof{grid-column:auto;margin-top:0}.parts ul{columns:1}
thead{position:absolute;clip-path:inset(50%);width:1px;height:1px;overflow:hidden}
tbody tr{display:grid;grid-template-columns:1fr auto;padding:.5rem .2rem}
tbody th,tbody td,tbody td:nth-child(2){width:auto;padding:.15rem .3rem}tbody td:nth-child(3){grid-column:1/3}}
@page{margin:7mm 13mm}
@media print{html{background:#fff;font-size:8.5pt}body{font-size:8.5pt;line-height:1.22}
main,header,footer{max-width:none;padding:0}header{padding-top:0}
h1{font-size:15pt;margin:4pt 0 3pt}.verdict{margin:4pt 0 5pt;padding:3pt 9pt}.verdict .mark{width:26pt;height:26pt}
.verdict strong{font-size:13.5pt}section{margin-top:8pt}th,td{padding:2.4pt 4pt}tbody th{width:24%}tbody td:nth-child(2){width:16%}.shop strong{font-size:12.5pt}
.facts{gap:3pt 10pt;grid-template-columns:repeat(4,auto)}.facts dd{font-size:10pt}h2{font-size:9.6pt;margin-bottom:2pt}
.more-pictures,.self{display:none}.two{padding-top:7pt;gap:0 14pt;grid-template-columns:1fr 1fr 1fr}.two .proof{grid-column:auto;margin-top:0}
.check{grid-template-columns:1fr}.check h2{grid-column:auto}.check .qr{width:34mm;margin:2pt auto 0}.check p{margin:0 0 1pt}
.says li,.parts li{margin:0 0 1pt}.ask{margin-top:7pt;padding-top:4pt}tr,figure,section{break-inside:avoid}
#h-results,#h-pictures{display:none}.pictures svg{max-height:80pt}.verdict strong{line-height:1.2}section{margin-top:6pt}
.privacy p{display:inline}.withdrawn{font-size:16pt;padding:4pt 8pt;margin-top:4pt}.note{margin:0 0 2pt}.demo{margin-top:4pt;padding:2pt 8pt}
.many,.many .facts dt,.many .facts dd small,.many .key,.many .key b,.many thead th,.many figcaption,.many code{font-size:7.6pt}.many{line-height:1.16}
.many h1{font-size:13.5pt;margin:3pt 0 2pt}.many h2{font-size:8.6pt;margin-bottom:1pt}.many .facts{gap:1pt 10pt}.many .facts dd{font-size:8.6pt}
.many th,.many td{padding:1.3pt 4pt}.many .verdict{margin:2pt 0 3pt;padding:2pt 8pt}.many .verdict .mark{width:20pt;height:20pt}.many .verdict strong{font-size:12pt}
.many section{margin-top:4pt}.many .two{padding-top:4pt;margin-top:4pt}.many .two section{margin-top:0}
.many .pictures{gap:10pt}.many .pictures svg{max-height:64pt}.full .pictures{display:none}.full th,.full td{padding:.7pt 4pt}.full section{margin-top:3pt}.many figcaption{margin-bottom:1pt}.many .ask{margin-top:3pt;padding-top:2pt}
.many .demo{padding:1pt 8pt;margin-top:3pt}.many .key{margin:1pt 0}.many .key b{display:inline}.many .check .qr{width:31mm}}
)css";

const std::string_view kShopCss = R"css(body{font-size:15px;background:var(--sand)}
header,main,footer{max-width:76rem;margin:0 auto;padding:0 1.6rem}
header{padding-top:1.4rem}footer{padding-bottom:2rem;color:var(--soft)}
h1{font-size:1.6rem;margin:.1rem 0 .7rem}
.over{color:var(--soft)}
.card{background:#fff;border:1px solid var(--rule);border-radius:10px;padding:1.1rem 1.3rem;margin:1rem 0}
.facts{display:grid;grid-template-columns:repeat(auto-fill,minmax(13rem,1fr));gap:.6rem 1.4rem}
.facts dt{color:var(--soft);font-size:.82rem}.facts dd{overflow-wrap:anywhere}
.title{display:flex;flex-wrap:wrap;gap:.3rem 1rem;align-items:center;margin-bottom:.6rem}
.title h2{margin:0;font-size:1.2rem}.title .meta{margin-left:auto;color:var(--soft);font-size:.9rem}
.scroll{overflow-x:auto}.scroll:focus{outline:2px solid var(--petrol)}
td.num,th.num{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
th,td{padding:.32rem .55rem}tbody th{font-weight:400}
.find{border-left:5px solid var(--fail);background:var(--fail-t);padding:.6rem .9rem;margin:.6rem 0;border-radius:0 8px 8px 0}
.find p+p{margin-top:.2rem}.find .ev{color:var(--soft);font-size:.9rem}
.pictures{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,25rem),1fr));gap:1.4rem;margin-top:1.2rem}
figure{max-width:38rem}
.none{color:var(--soft)}
@page{margin:12mm}
@media print{html,body{background:#fff}html{font-size:8.6pt}body{font-size:8.6pt}header,main,footer{max-width:none;padding:0}.card{border:0;padding:0}
.scroll{overflow:visible}.find,figure,tr{break-inside:avoid}.pictures{grid-template-columns:1fr 1fr}}
)css";
}  // namespace hb::sheet
