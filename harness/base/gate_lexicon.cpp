#include "gate_lexicon.hpp"

#include <algorithm>
#include <array>
#include <string>
#include <unordered_map>
#include <vector>

#include "gate_words.hpp"
#include "harness/base/text.hpp"

namespace hb::detail {
namespace {
constexpr std::string_view kSecrets =
    "password passwords passwd pwd pw pword passphrase passcode passcodes passkey pincode pinnumber "
    "unlockcode lockcode "
    "passwort passwoerter passworte kennwort kennwoerter kenncode losungswort geheimzahl geheimcode "
    "geheimnummer "
    "entsperrcode entsperrpin entsperrmuster entsperrzahl sperrcode sperrmuster zugangscode zugangsdaten "
    "zugangscodes "
    "geraetecode tuercode pincodes secret kennw passw wischmuster zeichenmuster voicemailpin "
    "simpin puk pukcode puk2 superpin wlanpasswort wlanschluessel wifipassword login logindaten username "
    "userid "
    "benutzername nutzername anmeldedaten anmeldename credentials "
    "السر السري سري السريه المرور الباسورد باسورد باسوورد الباسوورد باسوردات بسورد البسورد باسكود الباسكود "
    "بنكود بينكود";

struct Row {
  std::uint32_t kind;
  std::string_view words;
};
constexpr Row kRows[] = {
    {kSecret, kSecrets},
    {kPin, "pin pins بن البن بين"},
    {kCode, "code codes kode كود الكود كودها رمز الرمز رمزه رمزها رموز"},
    {kCodeOfThings,
     "qr bar barcode error errors fault faults fehler colour color farb farbe colours status exit dtc hex "
     "diagnostic date "
     "datums batch lot part article artikel model modell source boot beep blink flash strich خطا شبكه بطاريه "
     "شحن تطبيق بلوتوث منتج قطعه الشبكه البطاريه الخطا عطل "
     "العطل لون "
     "اللون الاستجابه qr-code"},
    {kCodeReader,
     "reader readers scanner scan scanning scans scanned label sticker leser lesen gelesen aufkleber app "
     "قارئ"},
    {kPattern, "pattern patterns muster نمط النمط نمطه"},
    {kPatternOfThings,
     "test dots dot stripe stripes striped line lines moire pixel pixels toten checker checkerboard flicker "
     "flickering interference noise strange odd weird same regular grid burn wear crack cracks scratch "
     "scratches "
     "spot spots linien streifen punkten punkte pixeln flecken خطوط بقع نقاط"},
    {kUnlock,
     "unlock unlocks unlocking unlocked unlock- entsperren entsperrt entsperrung entsperre entriegeln opens "
     "open "
     "oeffnen oeffnet freischalten aufsperren يفتح تفتح فتح الفتح لفتح افتح"},
    {kLock,
     "lock locks locked locking screenlock sperre displaysperre sperrt gesperrt bildschirmsperre قفل القفل"},
    {kBody,
     "finger fingers fingerprint thumb face facial fingerabdruck gesicht gesichts daumen iris sensor touch "
     "button "
     "key swipe hand force knife tool pry بصمه البصمه بالبصمه الوجه بالوجه اصبع"},
    {kPrompt,
     "prompt prompts field entry screen dialog dialogue box page keypad input window request requests "
     "eingabe "
     "abfrage feld maske fenster keyboard"},
    {kAsks, "asks asking ask wants requests demands requires fragt verlangt will يطلب"},
    {kWith, "with by using via mit per durch ueber w/ ب باستخدام"},
    {kIs, "is ist lautet war was equals heisst هو هي"},
    {kConnector,
     "usb port ports connector connectors pogo hole holes tray charging socket plug contact contacts bent "
     "broken "
     "missing corroded burnt solder soldered row board flex battery dock ground gnd buchse ladebuchse "
     "ladeport "
     "stecker anschluss verbogen gebrochen abgebrochen kontakt kontakte fehlt oxidiert krumm loose pushed"},
    {kWifi, "wifi wlan wi-fi fi network netz hotspot router واي فاي الفاي"},
    {kKey, "key schluessel keyword netzwerkschluessel"},
    {kNumberWord,
     "zero one two three four five six seven eight nine null eins zwei zwo drei vier fuenf sechs sieben acht "
     "neun "
     "صفر واحد اثنان اثنين ثلاثه اربعه خمسه سته سبعه ثمانيه تسعه"},
    {kHonorific,
     "mr mrs ms miss mister dr prof madam sir herr herrn frau fr hr السيد السيده سيد الاستاذ الاستاذه استاذ "
     "الدكتور "
     "الدكتوره دكتور دكتوره الحاج الانسه المهندس ابو ام"},
    {kPhone,
     "phone phones mobile handset clamshell fold flip foldable cell device tablet screen display handy "
     "handys "
     "telefon smartphone geraet mobiltelefon klapphandy apparat هاتف جوال موبايل تلفون جهاز تليفون محمول"},
    {kCall,
     "call calls ring text phone txt notify inform tell email message msg ask contact give hand return "
     "deliver pls "
     "please bitte anrufen ruf anruf rufen fragen melden benachrichtigen informieren abholen abholung "
     "bescheid "
     "اتصل اتصلوا اتصلي الاتصال اسال اسالوا كلم كلموا ابلغ سلم يسلم يستلم تستلم للاتصال"},
    {kBelongs, "belongs belonging gehoert owned يخص تخص ملك"},
    {kCustomer,
     "customer cust client owner user wife husband son daughter mother father mum mom dad brother sister "
     "friend "
     "girlfriend boyfriend partner daughters sons kunde kundin kd kunden besitzer besitzerin eigentuemer "
     "inhaber "
     "ehemann ehefrau mann sohn tochter mutter vater bruder schwester freund freundin الزبون الزبونه العميل "
     "العميله "
     "زبون زبونه عميل صاحب صاحبه المالك مالك"},
    {kNobody,
     "the a an this that these those his her hers their its our my your another other same one customer "
     "customers "
     "client clients owner owners user users shop we us it them someone somebody nobody both all any each no "
     "not "
     "kid kids child children wife husband son daughter person people company firm school der die das dem "
     "den des "
     "ein eine einem einer eines kunde kunden kundin besitzer besitzers laden uns ihm ihr ihnen jemand "
     "niemand "
     "meine meiner seiner seine ihrer ihre firma schule hand here today yesterday maker manufacturer "
     "technician "
     "manager wants wanted says said asks asked reports reported has had is was will would can could thinks "
     "needs "
     "moechte sagt will hat hatte ist war wuenscht braucht meint berichtet holt bringt und and or oder aber "
     "but "
     "الزبون العميل المحل الشركه صاحبه صاحبها"},
    // What a bench speaks of: no person either.
    {kNobody,
     "screen display panel glass hinge fold crease film frame cover back front inner outer main side top "
     "bottom left "
     "right upper lower middle half full corner edge gap line lines dot dots spot spots pixel pixels stripe "
     "stripes "
     "tint shadow bright dark black white green pink purple yellow grey blue touch touches ghost battery "
     "batt cell "
     "pack charge charges charging charger cable port plug pad coil wireless fast slow power volume vol key "
     "keys "
     "button buttons camera cam lens flash torch focus zoom photo photos picture pictures video speaker "
     "speakers "
     "earpiece mic microphone sound voice volume ring ringing vibration vibrates motor sensor fingerprint "
     "finger "
     "face unlock lock sim tray nfc wifi wi bluetooth gps network signal antenna mobile data app apps boot "
     "boots "
     "reboots restarts update logo error code codes qr pattern pin pins passes water damage liquid coffee "
     "sand dust "
     "fell dropped drops fall bent broken cracked crack scratch scratched shattered swollen loose stiff "
     "stuck dead "
     "weak quiet loud noise rattles buzzes creaks grinds clicks crackles flickers flickering stays stopped "
     "stops "
     "starts turns opens closes shuts does doesnt dont do not no wont cannot cant keeps gets goes works "
     "shows looks "
     "feels sounds takes needs hears reads dies drains heats hot warm cold since after before when while "
     "only "
     "still always never sometimes often every two three some many much very too also again one both missing "
     "screws screw part parts board flex connector assembly adhesive seal colour color repair repaired swap "
     "swapped "
     "replaced fitted rev lot version peak low high max min deep deeper worse better ok okay fine good bad "
     "odd "
     "quality end ends messages message pads tried called brought noticed found told waiting keep cheap "
     "original "
     "protective protector wide selfie auto proximity compass light lights alarm payment card headset audio "
     "call "
     "calls text mail address flat sharp blurry blurred hazy off on out in up down for of to with by from "
     "until "
     "internet protection mode button stylus pen front rear anker knick falz scharnier akku bildschirm "
     "kamera "
     "lautsprecher mikro mikrofon taste rahmen rueckseite folie glas ladebuchse kabel innen aussen oben "
     "unten links "
     "rechts geht startet laedt flackert klemmt reagiert display touch"},
    {kGreeting,
     "hi hello dear hey hallo liebe lieber gruss gruesse servus regards thanks thx cheers sincerely danke lg "
     "mfg شكرا تحياتي مرحبا السلام عزيزي عزيزتي اهلا"},
    {kStreet, "street road avenue lane boulevard blvd crescent terrace rd ave st str strasse"},
    {kUnit,
     "mm cm m inch inches in zoll percent prozent pct v mv a ma mah w mw h hr hrs hour hours min mins minute "
     "minutes "
     "s sec secs second seconds ms hz khz mhz ghz deg degree degrees grad c f nit nits lux cd lx db eur euro "
     "usd x "
     "times mal day days week weeks month months year years tage tagen tag woche wochen monat monate monaten "
     "jahr "
     "jahre jahren std stunden stunde minuten sekunden pixel pixels px mp gb mb kb tb g kg n um ohm cycles "
     "zyklen of "
     "von screws schrauben spots dots lines times stellen places pieces stueck fach مم سم بوصه ساعه ساعات "
     "دقيقه دقايق "
     "ثانيه ثواني يوم ايام اسبوع شهر اشهر مره مرات درجه بالميه فولت"},
    {kTelephone,
     "tel telephone phone mob mobile cell number nr no num ring call text callback messenger rueckruf handy "
     "mobil "
     "telefon telefonnr telefonnummer handynummer handynr rufnummer nummer erreichbar anrufen هاتف جوال "
     "تلفون رقم "
     "الرقم موبايل الجوال الهاتف اتصل"},
    {kTop, "com org net edu gov info biz example de uk eu io ch nl fr es it invalid test"},
    {kNameWord,
     "name named surname firstname lastname vorname nachname familienname namens اسم الاسم اسمه اسمها باسم"},
};

std::vector<std::string> words_in(std::string_view list) {
  std::vector<std::string> out;
  for (const auto w : split(list, ' '))
    if (!w.empty()) out.push_back(folded(w));
  return out;
}

using Words = std::unordered_map<std::string, std::uint32_t>;
const Words& lexicon() {
  static const Words all = [] {
    Words w;
    for (const auto& row : kRows)
      for (auto& word : words_in(row.words)) w[word] |= row.kind;
    for (auto& word : words_in(names().maybe)) w[word] |= kMaybeName;
    for (auto& word : words_in(names().sure)) w[word] = (w[word] & ~kMaybeName) | kName;
    return w;
  }();
  return all;
}

/// True when one insertion, deletion, replacement or exchange of neighbours makes `a` into `b` (Damerau
/// 1964).
bool one_error_apart(std::string_view a, std::string_view b) {
  if (a.size() > b.size()) std::swap(a, b);
  if (b.size() - a.size() > 1) return false;
  std::size_t i = 0;
  while (i < a.size() && a[i] == b[i]) ++i;
  if (a.size() < b.size()) return a.substr(i) == b.substr(i + 1);
  if (i + 1 >= a.size()) return true;
  return a.substr(i + 1) == b.substr(i + 1) ||
         (a[i] == b[i + 1] && a[i + 1] == b[i] && a.substr(i + 2) == b.substr(i + 2));
}
}  // namespace

std::uint32_t kinds(std::string_view word) {
  const auto& all = lexicon();
  const auto it = all.find(std::string(word));
  return it == all.end() ? 0 : it->second;
}

std::uint32_t kinds_behind_prefixes(std::string_view word) {
  std::uint32_t k = kinds(word);
  if (k != 0 || word.empty() || static_cast<unsigned char>(word[0]) < 0xd8) return k;
  for (const std::string_view prefix : {"و", "ب", "ل", "ف", "وب", "ول"})
    if (word.starts_with(prefix) && word.size() >= prefix.size() + 6) k |= kinds(word.substr(prefix.size()));
  for (const std::string_view prefix : {"بال", "وال", "لل", "ال"})
    if (word.starts_with(prefix) && word.size() >= prefix.size() + 4)
      k |= kinds(word.substr(prefix.size())) & ~(kName | kMaybeName);
  return k;
}

bool nearly_secret(std::string_view word) {
  static const std::vector<std::string> secrets = words_in(kSecrets);
  if (word.size() < 7 || kinds(word) != 0) return false;
  return std::any_of(secrets.begin(), secrets.end(),
                     [&](const auto& s) { return s.size() >= 7 && one_error_apart(word, s); });
}
}  // namespace hb::detail
