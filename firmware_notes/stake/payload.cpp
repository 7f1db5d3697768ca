// The payload of a stake in C++, for boards that are programmed so: SenML in JSON (RFC 8428), as payload.md tells it.
// Compiles anywhere; a board prints `message` into its MQTT library at QoS 1, and keeps it until it is confirmed.

#include <cstdio>
#include <cstddef>

struct Value {
    const char *probe;
    const char *unit;  // SenML, as "Cel"; nullptr for a ratio
    double value;
};

// Writes the message of one moment; unix_s 0 where the clock was never set: then the time of arrival counts.
// Answers how long it is, or 0 where there is not room enough for it.
std::size_t message(char *out, std::size_t room, const char *stake, long unix_s, const Value *values, int count) {
    std::size_t used = 0;
    auto put = [&](int length) {
        if (length < 0 || used + static_cast<std::size_t>(length) >= room) return false;
        used += static_cast<std::size_t>(length);
        return true;
    };
    for (int i = 0; i < count; i++) {
        const Value &one = values[i];
        if (!put(std::snprintf(out + used, room - used, "%s{", i ? "," : "["))) return 0;
        if (i == 0 && !put(std::snprintf(out + used, room - used, "\"bn\":\"%s/\",", stake))) return 0;
        if (i == 0 && unix_s && !put(std::snprintf(out + used, room - used, "\"bt\":%ld,", unix_s))) return 0;
        if (one.unit && !put(std::snprintf(out + used, room - used, "\"u\":\"%s\",", one.unit))) return 0;
        if (!put(std::snprintf(out + used, room - used, "\"n\":\"%s\",\"v\":%.4f}", one.probe, one.value))) return 0;
    }
    return put(std::snprintf(out + used, room - used, "]")) ? used : 0;
}

#ifndef ARDUINO
int main() {
    const Value values[] = {{"t05", "Cel", 18.25}, {"t12", "Cel", 17.4375}, {"m12", nullptr, 0.231}};
    char text[256], small[40];
    if (!message(text, sizeof text, "stake-3", 1776067200L, values, 3)) return 1;
    std::puts(text);
    return message(small, sizeof small, "stake-3", 1776067200L, values, 3) == 0 ? 0 : 1;
}
#endif
