"""Words of the trade and of plain English that go with sides, columns and events; none is taken from a host."""


def _words(text: str) -> list[str]:
    return text.split()


AIR = (
    "air rf radio rx local ota offair onair overair overtheair fromair antenna aerial receiver uhf vhf ether input ant "
    "onairrx airside rxair "
    "radioside rfside off-air locally rfin airborne hf direct handheld mobile"
)


LINK = (
    "net network link gateway gw remote internet inet ip lan wan wire web server peer linked line lnk nw trunk "
    "uplink online wired "
    "netside networkside linkside fromnet fromnetwork fromlink iplink upstream backhaul cloud stream bridge distant far"
)


SIDE_LEADS = {"from", "via", "on", "by", "off", "over", "the", "through"}


SIDE_NAMES = _words(
    "side from via source src origin path port dir direction where leg feed way interface iface medium route"
)


MODE_NAMES = _words(
    "mode sys system proto protocol modulation modem kind type service codec vocoder m md standard format"
)


SLOT_NAMES = _words("slot ts timeslot tslot sl time_slot tdma")


STATION_NAMES = _words(
    "station from by call callsign sign who src source caller user id operator sender origin heard unit "
    "radio subscriber talker name op speaker person de sid uid rid party originator transmitter"
)


TARGET_NAMES = _words(
    "to target tg talkgroup dest destination dst group reflector calling towards toward for into ref "
    "module tgt goal called callee at on talk gid grp channel"
)


TARGETLY = {
    "to",
    "target",
    "tg",
    "talkgroup",
    "dest",
    "destination",
    "dst",
    "group",
    "reflector",
    "calling",
    "towards",
    "tgt",
    "called",
    "callee",
    "gid",
    "grp",
    "goal",
}


ARROWS = {">", "->", "=>", ">>", "→"}


DURATION_NAMES = _words(
    "after for dur duration len length lasted secs seconds sec airtime took time elapsed t ms frames "
    "talked spoke held total runtime spent keyed millis ran span talktime f frame duree msec air lasting "
    "d"
)


BER_NAMES = _words("ber err error errors biterrors bit bits fec errs errate quality q biterr error_rate rate e")


LOSS_NAMES = _words(
    "loss lost lossy missing missed miss drop drops dropped packets pkt plr pl gaps lossrate missingframes l"
)


RSSI_NAMES = _words("rssi level signal strength lvl sig dbm power s rx_level field rxlevel rssidbm")


NETWORK_NAMES = _words("network peer net server master host link gateway hub node to with from remote")


START = (
    r"start(?:s|ed|ing)?|begin(?:s|ning)?|began|begun|open(?:s|ed|ing)?|keyed|keys?|keydown|pressed|press|ptt|"
    r"header|incoming|rise[sn]?|rising|onset|takes?|took|speak(?:s|ing)?|talk(?:s|ing)|up|on|new|enter(?:s|ed)?|"
    r"acquired?|lift(?:s|ed)?|seize[sd]?|grabs?|live|bot|sot|stx|active|go|heard|hears|hearing|detected|"
    r"arriv(?:es|ed|al)|comes?|came|head|hello|raised|activity|sync|latched|receiving|busy|transmitting|first|"
    r"calls|began|launch(?:ed)?|attack|beginning|tx|in|hi|rxon|head"
)


END = (
    r"end(?:s|ed|ing)?|clos(?:e|es|ed|ing)|shuts?|stop(?:s|ped)?|finish(?:es|ed)?|done|over|eot|unkey(?:ed|s)?|"
    r"releas(?:e|es|ed)|off|down|lasted|gone|drop(?:s|ped)?|clear(?:s|ed)?|trailer|tail|terminat(?:or|ed|es)|"
    r"last|leaves?|left|complete[ds]?|idle|bye|etx|fell|fall(?:s|en)?|silent|quiet|after|freed?|unlatched|let|"
    r"vacat(?:es|ed)|ceas(?:es|ed)|goodbye|fini|conclud(?:es|ed)|summary|stats|spoke|talked|out|total|ran|eox|"
    r"expired|closing|exit|rxoff|lost|timeout"
)


REFUSED = (
    r"refus(?:es|ed|al|ing)?|den(?:y|ied|ies)|reject(?:s|ed|ion)?|turned away|not let|would not|blocked|block|"
    r"barred|locked|lockout|declin(?:es|ed)|shut out|shutout|no entry|nak|inhibit(?:ed)?|preempted|bounced?|"
    r"sent away|kept out|can ?not|may not|forbidden|not allowed|ignored call|unable|wait(?:s|ing)? outside|"
    r"no admittance|busy for|dismissed|held off|won t|wont|not admitted|no room|no access"
)


LINK_WORDS = (
    r"link(?:s|ed|ing)?|unlink(?:ed)?|connect(?:s|ed|ion|ing)?|disconnect(?:s|ed|ion)?|log(?:ged)? ?(?:in|on|"
    r"out|off)|login|logout|logon|logoff|peer|registered|deregistered|shook hands|handshake|gateway|network|"
    r"uplink|trunk|tunnel|joined|parted|reconnect(?:ed)?|session|answers|line|bridge|attach(?:ed)?|"
    r"detach(?:ed)?|net|server|reachable|unreachable|socket|wire|far end|reflector"
)


UP_WORDS = (
    r"up|made|established|connected|connects|linked|joined|in|on|logged in|login|logon|open(?:ed)?|ready|online|"
    r"restored|back|ok|registered|shook|attach(?:ed)?|reconnected|alive|accepted|begun|started|active|again|"
    r"caught|gained|reachable|hello|healthy|live|join"
)


DOWN_WORDS = (
    r"down|dropp?e?d?|lost|disconnected|disconnects?|unlinked|parted|off|out|closed?|gone|no longer|offline|"
    r"failed|timed out|timeout|broke|broken|away|deregistered|detach(?:ed)?|unreachable|dead|ended|severed|"
    r"hung up|silent|stopped|loses|lose|fell|fallen|died|cut|drop|leave|part|let go"
)


CARRIER = (
    r"carrier|noise|noisy|squelch|interference|undecoded|hum(?:ming)?|hiss|unknown signal|signal|mush|rfi|qrm|"
    r"splat|undecodable|buzz|sql|cos|cor|unmodulated|unidentified|junk|crackle|gibberish"
)


PAGE = r"pag(?:e|es|ed|er|ing)|pocsag|ric|beep(?:ed)?|bleep(?:ed)?|message sent|alert tone|pgr|poc"


HOST = (
    r"host|system|daemon|service|program|process|engine|controller|controller|repeater|station|box|node|"
    r"software|version|build|boot(?:ed|ing)?|reboot(?:ed)?|power(?:ed)?|firmware|good (?:morning|night)|"
    r"initiali[sz]ed|init|daemon|main|core|logger|logging|unit|machine|self|hello|goodbye|awake|shutdown|"
    r"restart(?:ed|ing)?|startup|sys|log|app|kernel|supervisor|wakes?|sleep(?:s|ing)?"
)


HOST_UP = (
    r"up|start(?:s|ed|ing|up)?|boot(?:ed|ing|s)?|reboot(?:ed)?|ready|morning|initiali[sz]ed|init|powered|began|"
    r"begin|begins|running|launch(?:ed)?|hello|awake|wakes?|woke|open(?:ed)?|online|restart(?:ed|ing)?|version|"
    r"build|cold|warm|alive"
)


HOST_DOWN = (
    r"down|stop(?:s|ped|ping)?|shut(?:ting)?(?: down)?|shutdown|exit(?:s|ed|ing)?|night|terminat(?:ed|ing|es)|"
    r"quit(?:s|ting)?|goodbye|bye|halt(?:ed|ing)?|kill(?:ed)?|asleep|sleep(?:s|ing)?|clos(?:ed|ing)|end(?:s|"
    r"ed)?|off|leaving|stood"
)


ALIVE = (
    r"alive|heart ?beat|beat|tick(?:s)?|keep ?alive|ping|still (?:here|alive|up|running)|well|health(?:y)?|"
    r"pulse|watching|all quiet|idle|status|uptime|hb|life|breathing|ok"
)
