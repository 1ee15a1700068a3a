/* A controller that asks for no current, as quickly as can be. */
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static void answer(const char *result)
{
    static int id;
    char line[65536], out[256];
    size_t count = 0;
    while (count < sizeof line && read(0, line + count, 1) == 1 && line[count] != '\n')
        count++;
    int length = snprintf(out, sizeof out, "{\"jsonrpc\":\"2.0\",\"id\":%d,\"result\":%s}\n", ++id, result);
    if (write(1, out, (size_t)length) != length)
        _exit(1);
}

int main(void)
{
    unsigned char asked[176], said[160] = {0x32, 0x54, 0x52, 0x44};
    answer("{\"protocol\":1,\"name\":\"echo\"}");
    answer("{\"answers\":\"current\"}");
    while (read(0, asked, sizeof asked) == sizeof asked && !(asked[4] & 1)) {
        memcpy(said + 8, asked + 8, 8);
        if (write(1, said, sizeof said) != sizeof said)
            return 1;
    }
    answer("null");
    return 0;
}
